//! The same site turned, mirrored, moved, raised; the same thing said twice; closed forms.

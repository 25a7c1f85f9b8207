//! What commands state agrees, and what they write harms nothing.

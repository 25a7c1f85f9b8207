//! One declaration per input: a table of the file as a struct whose fields are its keys.
//!
//! ```text
//! part! {
//!     /// The air.
//!     pub struct Weather<U>(s) {
//!         "Mean wind at the reference height"
//!         wind_mps: U = uncertain(0, between(0.0, 40.0), Uncertain::Lognormal(4.0, 1.4), "estimate: light to moderate");
//!     }
//! }
//! ```
//!
//! A row is the meaning, the key, the type, the kind of the key as [`Section`](super::section::Section) asks for it, and
//! what the kind needs: range, default, and where the default comes from. `uncertain` has the block of its random draw in
//! front. From a row follow the field, its documentation, the reader, the page of keys, the JSON Schema, the table of inputs
//! and, for an uncertain input, its draw and its what-if bar. The values of a flight have the same fields as numbers:
//! `drawn.weather.wind_mps`.
//!
//! `let` rows before a key work out what its default depends on; `made(…)` is a field that is not one key; `part`, `opt_part`
//! and `parts` are tables below; `then { … }` checks what was read.

/// Declares a table of the file; with `<U>` one that holds uncertain inputs, `U` being a distribution in the scenario and a
/// number in a flight.
macro_rules! part {
    (
        $(#[$about:meta])*
        pub struct $name:ident<U>($s:ident $(, $arg:ident: $argument:ty)*) {
            $( $(let $bound:pat = $value:expr;)* $meaning:literal $field:ident: $type:ty = $kind:ident $args:tt; )*
        }
        $(then $check:block)?
    ) => {
        $(#[$about])*
        #[derive(Debug, Clone, PartialEq)]
        pub struct $name<U = crate::chance::Uncertain> {
            $( #[doc = $meaning] pub $field: $type, )*
        }

        impl $name {
            pub(in crate::scenario) fn read($s: &$crate::scenario::section::Section $(, $arg: $argument)*) -> $name {
                $( $(let $bound = $value;)* let $field = part!(@read $s, $field, $meaning, $kind $args); )*
                $($check)?
                $name { $($field),* }
            }
        }

        impl $name {
            /// The same with the middle value of every uncertain input, for planning.
            pub fn central(&self) -> $name<f64> {
                self.map(&$crate::scenario::place::Place::default(), &mut |_, _, number| number.central())
            }
        }

        impl<U: Clone> $name<U> {
            /// The same with every uncertain input changed; `change` is told its place and the block of its draw.
            pub(in crate::scenario) fn map<V: Clone>(
                &self,
                place: &$crate::scenario::place::Place,
                change: &mut impl FnMut(&$crate::scenario::place::Place, u32, &U) -> V,
            ) -> $name<V> {
                $name { $( $field: part!(@map self.$field, place, $field, change, $kind $args), )* }
            }
        }
    };
    (
        $(#[$about:meta])*
        pub struct $name:ident($s:ident $(, $arg:ident: $argument:ty)*) {
            $( $(let $bound:pat = $value:expr;)* $meaning:literal $field:ident: $type:ty = $kind:ident $args:tt; )*
        }
        $(then $check:block)?
    ) => {
        $(#[$about])*
        #[derive(Debug, Clone, PartialEq)]
        pub struct $name {
            $( #[doc = $meaning] pub $field: $type, )*
        }

        impl $name {
            pub(in crate::scenario) fn read($s: &$crate::scenario::section::Section $(, $arg: $argument)*) -> $name {
                $( $(let $bound = $value;)* let $field = part!(@read $s, $field, $meaning, $kind $args); )*
                $($check)?
                $name { $($field),* }
            }
        }
    };
    (@read $s:ident, $field:ident, $meaning:literal, made($made:expr)) => { $made };
    (@read $s:ident, $field:ident, $meaning:literal, part($part:expr)) => { $part };
    (@read $s:ident, $field:ident, $meaning:literal, opt_part($part:expr)) => { $part };
    (@read $s:ident, $field:ident, $meaning:literal, optional($table:ident)) => {
        $s.opt_table(stringify!($field), $meaning).map(|table| $table::read(&table))
    };
    (@read $s:ident, $field:ident, $meaning:literal, optional_part($table:ident)) => {
        $s.opt_table(stringify!($field), $meaning).map(|table| $table::read(&table))
    };
    (@read $s:ident, $field:ident, $meaning:literal, parts($key:literal, $part:expr)) => { $part };
    (@read $s:ident, $field:ident, $meaning:literal, each($($arg:expr),*)) => {
        $s.uncertain(stringify!($field), $($arg),*, $meaning)
    };
    (@read $s:ident, $field:ident, $meaning:literal, drawn($block:expr, $made:expr)) => { $made };
    (@read $s:ident, $field:ident, $meaning:literal, drawn_as($block:expr, $key:literal, $made:expr)) => { $made };
    (@read $s:ident, $field:ident, $meaning:literal, chances($block:expr, $($arg:expr),*)) => {
        $s.chances(stringify!($field), $($arg),*, $meaning)
    };
    (@read $s:ident, $field:ident, $meaning:literal, drawn_list($block:expr, $list:literal, $key:literal, $made:expr)) => { $made };
    (@read $s:ident, $field:ident, $meaning:literal, uncertain($block:expr, $($arg:expr),*)) => {
        $s.uncertain(stringify!($field), $($arg),*, $meaning)
    };
    (@read $s:ident, $field:ident, $meaning:literal, $kind:ident($($arg:expr),*)) => {
        $s.$kind(stringify!($field), $($arg,)* $meaning)
    };
    (@map $from:expr, $above:ident, $field:ident, $change:ident, uncertain($block:expr, $($arg:expr),*)) => {{
        let place = $above.key(stringify!($field));
        $change(&place, place.block($block), &$from)
    }};
    (@map $from:expr, $above:ident, $field:ident, $change:ident, chances($block:expr, $($arg:expr),*)) => {{
        let place = $above.key(stringify!($field));
        $change(&place, place.block($block), &$from)
    }};
    (@map $from:expr, $above:ident, $field:ident, $change:ident, drawn($block:expr, $made:expr)) => {{
        let place = $above.key(stringify!($field));
        $change(&place, place.block($block), &$from)
    }};
    (@map $from:expr, $above:ident, $field:ident, $change:ident, drawn_as($block:expr, $key:literal, $made:expr)) => {{
        let place = $above.key($key);
        $change(&place, place.block($block), &$from)
    }};
    (@map $from:expr, $above:ident, $field:ident, $change:ident, drawn_list($block:expr, $list:literal, $key:literal, $made:expr)) => {{
        let mut one = |(index, number)| {
            let table = $above.key($list).item(index);
            let place = table.key($key);
            $change(&place, place.block($block), number)
        };
        $from.iter().enumerate().map(|item| one(item)).collect()
    }};
    (@map $from:expr, $above:ident, $field:ident, $change:ident, part($part:expr)) => { $from.map(&$above.key(stringify!($field)), $change) };
    (@map $from:expr, $above:ident, $field:ident, $change:ident, opt_part($part:expr)) => {
        $from.as_ref().map(|part| part.map(&$above.key(stringify!($field)), $change))
    };
    (@map $from:expr, $above:ident, $field:ident, $change:ident, optional_part($table:ident)) => {
        $from.as_ref().map(|part| part.map(&$above.key(stringify!($field)), $change))
    };
    (@map $from:expr, $above:ident, $field:ident, $change:ident, parts($key:literal, $part:expr)) => {{
        let of = |index: usize| $above.key($key).item(index);
        $from.iter().enumerate().map(|(index, part)| part.map(&of(index), $change)).collect()
    }};
    (@map $from:expr, $above:ident, $field:ident, $change:ident, $kind:ident $args:tt) => { $from.clone() };
}

pub(super) use part;

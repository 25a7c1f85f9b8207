//! The built-in course: lesson files like any other, of invented places, carried in the program.

use crate::scenario::MemoryFiles;

/// A file of the course by its name, with its text.
macro_rules! files {
    ($($name:literal),* $(,)?) => {
        [$(($name, include_str!(concat!("../../lessons/", $name)))),*]
    };
}

/// Name and text of every file of the course, in order.
pub fn course() -> [(&'static str, &'static str); 13] {
    files![
        "01-the-silence.toml",
        "02-patience.toml",
        "03-nothing-set.toml",
        "04-return-height.toml",
        "05-home-point.toml",
        "06-a-fix-that-jumps.toml",
        "07-heading.toml",
        "08-upwind-downwind.toml",
        "09-low-pack.toml",
        "10-behind-the-ridge.toml",
        "11-the-picture-first.toml",
        "12-a-warning-heeded.toml",
        "13-the-hand-on-the-switch.toml",
    ]
}

/// The files that those of the course name.
pub fn course_files() -> MemoryFiles {
    let ridge = include_bytes!("../../lessons/ridge.asc").to_vec();
    MemoryFiles([("ridge.asc".to_string(), ridge)].into())
}

//! Lessons: chapters with a question, a prediction, and an answer that is flown on the spot.
//!
//! A lesson file names scenarios, what is changed in them, what is measured and what is said about it. Nothing in it is a result:
//! texts quote measured numbers by name, the right prediction is computed, and what the prose claims is checked at every run.

mod course;
mod file;
mod measure;
mod quote;
mod run;

pub use course::{course, course_files};
pub use file::{Ask, Chapter, Claim, Lesson, Measure, Operand, Question, Statistic, Variant, View, read};
pub use measure::{Event, Quantity, Value, events, quantities};
pub use run::{Answered, LessonError, Prediction, Shown, run};

//! Progress on a terminal, silence in a pipe.

use std::io::Write;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar over `total` flights on standard error; hidden unless that is a terminal.
pub struct Progress {
    bar: ProgressBar,
}

impl Progress {
    /// Starts a bar.
    pub fn new(what: &str, total: u64, ascii: bool) -> Progress {
        let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::stderr());
        let template = "{msg:24} [{bar:30}] {pos}/{len}  {eta}";
        let style = ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar());
        bar.set_style(if ascii { style.progress_chars("#- ") } else { style.progress_chars("━╸─") });
        bar.set_message(what.to_string());
        Progress { bar }
    }

    /// A callback for a run.
    pub fn hear(&self) -> impl Fn(u64) + Sync + use<> {
        let bar = self.bar.clone();
        move |done| bar.set_position(done)
    }

    /// So many flights are flown.
    pub fn show(&self, done: u64) {
        self.bar.set_position(done);
    }

    /// Says something on standard error, above the bar where there is one.
    pub fn say(&self, text: &str) {
        // Nobody need be there to hear it.
        self.bar.suspend(|| drop(std::io::stderr().lock().write_all(text.as_bytes())));
    }

    /// Takes the bar off the screen.
    pub fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

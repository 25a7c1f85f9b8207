//! Progress on a terminal, silence in a pipe.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar over `total` flights on standard error; hidden unless that is a terminal.
pub struct Progress {
    bar: ProgressBar,
    done: std::cell::Cell<u64>,
}

impl Progress {
    /// Starts a bar.
    pub fn new(what: &str, total: u64, ascii: bool) -> Progress {
        let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::stderr());
        let template = "{msg:24} [{bar:30}] {pos}/{len}  {eta}";
        let style = ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar());
        bar.set_style(if ascii { style.progress_chars("#- ") } else { style.progress_chars("━╸─") });
        bar.set_message(what.to_string());
        Progress { bar, done: std::cell::Cell::new(0) }
    }

    /// A callback for a run whose flights count from where the bar stands.
    pub fn hear(&self) -> impl Fn(u64) + Sync + use<> {
        let (bar, start) = (self.bar.clone(), self.done.get());
        move |done| bar.set_position(start + done)
    }

    /// Takes the bar off the screen.
    pub fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

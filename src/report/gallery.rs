//! The figures of a document: one drawing for wide pages, one for phones, for some a third. Drawn from data, or read back from the
//! folder of a report.

use super::folder::{FolderError, ReportFolder};
use super::plot::canvas::RasterError;
use super::plot::{Figure, Look};
use crate::scenario::bytes_of;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::path::{Component, Path, PathBuf};

/// What a figure is called and says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Words {
    /// Short name: stem of its files.
    pub id: String,
    /// Title.
    pub title: String,
    /// How to read it.
    pub caption: String,
    /// What it shows, for those who do not see it.
    pub words: String,
}

/// A figure in all its drawings.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// What it is called and says.
    pub about: Words,
    /// Drawing for wide pages and for files.
    pub wide: String,
    /// Drawing for half a page; where there is one, the wide one is for paper.
    pub middle: Option<String>,
    /// Drawing for phones; `None`: not for phones.
    pub narrow: Option<String>,
    /// The wide drawing as a picture.
    png: Option<Figure>,
}

/// All figures of a document.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Gallery(Vec<Shown>);

/// The list of a folder's figures, in the folder of figures.
const LIST: &str = "figures.json";

/// Picture points to a px in the PNGs.
const PNG_SCALE: f32 = 2.0;

/// Pictures made beside each other: one takes some 20 MB, and more threads should not take more.
const PICTURES_AT_ONCE: usize = 2;

/// Why figures could not be written or read.
#[derive(Debug, thiserror::Error)]
pub enum GalleryError {
    /// The folder.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// A picture.
    #[error("{0}: {1}")]
    Picture(String, RasterError),
    /// A file of a figure cannot be read.
    #[error("{0}: {1}")]
    Read(PathBuf, std::io::Error),
    /// The list of figures is not one.
    #[error("{0}:{1}")]
    List(PathBuf, serde_json::Error),
    /// A figure of the list that is none of its folder.
    #[error("{0}: the figure \"{1}\" is none of that folder")]
    Name(PathBuf, String),
}

fn suffix(look: Look) -> String {
    format!("-{:.0}", look.width_px)
}

impl Gallery {
    /// Draws figures for all widths; `draw` gives them in the same order for each. Those of `halves` get a drawing for half a
    /// page too.
    pub fn new(draw: impl Fn(Look<'static>) -> Vec<Figure>, halves: Vec<Figure>) -> Gallery {
        let (wide, narrow) = (draw(Look::WIDE), draw(Look::NARROW));
        let shown = wide.into_iter().zip(narrow).map(|(wide, narrow)| {
            let id = wide.id.clone();
            let half = format!("{id}{}", suffix(Look::MIDDLE));
            Shown {
                about: Words {
                    id: id.clone(),
                    title: wide.title.clone(),
                    caption: wide.caption.clone(),
                    words: wide.words.clone(),
                },
                middle: halves.iter().find(|figure| figure.id == half).map(|figure| figure.svg.clone()),
                wide: wide.svg.clone(),
                png: (narrow.id != wide.id).then_some(wide),
                narrow: Some(narrow).filter(|narrow| narrow.id != id).map(|narrow| narrow.svg),
            }
        });
        Gallery(shown.collect())
    }

    /// These figures and then the others.
    #[must_use]
    pub fn and(mut self, others: Gallery) -> Gallery {
        self.0.extend(others.0);
        self
    }

    /// The figures of a name: the one called so, or all whose names go on from it.
    pub fn named<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Shown> {
        let exact = self.0.iter().any(|shown| shown.about.id == name);
        self.0.iter().filter(move |shown| {
            let rest = shown.about.id.strip_prefix(name);
            rest.is_some_and(|rest| rest.is_empty() || (!exact && rest.starts_with('-')))
        })
    }

    /// Writes `figures/`: wide drawings as SVG, and as PNG where the folder is to have pictures; for pages the others and a list.
    ///
    /// # Errors
    /// When one cannot be drawn or written.
    pub fn write(&self, folder: &ReportFolder) -> Result<(), GalleryError> {
        let picture = |shown: &Shown| {
            let id = &shown.about.id;
            let png = shown.png.as_ref().filter(|_| folder.pictures).map(|figure| figure.png(PNG_SCALE)).transpose();
            png.map_err(|error| GalleryError::Picture(id.clone(), error))
        };
        let some = |shown: &[Shown]| shown.par_iter().map(picture).collect::<Vec<_>>();
        let pictures = self.0.chunks(PICTURES_AT_ONCE).flat_map(some);
        for (shown, picture) in self.0.iter().zip(pictures) {
            let id = &shown.about.id;
            folder.write(&format!("figures/{id}.svg"), shown.wide.as_bytes())?;
            for (look, svg) in [(Look::NARROW, &shown.narrow), (Look::MIDDLE, &shown.middle)] {
                if let Some(svg) = svg {
                    folder.write(&format!("figures/{id}{}.svg", suffix(look)), svg.as_bytes())?;
                }
            }
            if let Some(picture) = picture? {
                folder.write(&format!("figures/{id}.png"), &picture)?;
            }
        }
        let mut list = Vec::new();
        let about: Vec<&Words> = self.0.iter().map(|shown| &shown.about).collect();
        // Writing into memory does not fail.
        let _ = super::json::write(&about, &mut list);
        folder.write(&format!("figures/{LIST}"), &list)?;
        Ok(())
    }

    /// Reads the figures of a report back from its folder.
    ///
    /// # Errors
    /// When a file is not there or the list of them cannot be read.
    pub fn read(report: &Path) -> Result<Gallery, GalleryError> {
        let folder = report.join("figures");
        let read = |name: String| {
            let path = folder.join(name);
            let text = bytes_of(&path)
                .and_then(|bytes| String::from_utf8(bytes).map_err(|_| std::io::Error::other("not UTF-8 text")));
            text.map_err(|error| GalleryError::Read(path, error))
        };
        let list = read(LIST.into())?;
        let about: Vec<Words> =
            serde_json::from_str(&list).map_err(|error| GalleryError::List(folder.join(LIST), error))?;
        let shown = about.into_iter().map(|about| {
            let id = &about.id;
            // A list that was tampered with leads nowhere else.
            if !matches!(Path::new(id).components().collect::<Vec<_>>()[..], [Component::Normal(_)]) {
                return Err(GalleryError::Name(folder.join(LIST), id.clone()));
            }
            let other = |look: Look| {
                let name = format!("{id}{}.svg", suffix(look));
                folder.join(&name).exists().then(|| read(name)).transpose()
            };
            Ok(Shown {
                wide: read(format!("{id}.svg"))?,
                middle: other(Look::MIDDLE)?,
                narrow: other(Look::NARROW)?,
                png: None,
                about,
            })
        });
        Ok(Gallery(shown.collect::<Result<_, GalleryError>>()?))
    }
}

//! The pictures of a review by what they are about: the opening night, the plant, the air.

use bloom_model::quantity::Variable;

use super::chart::Size;
use super::charts::Picture;
use super::{Earlier, Review};

/// Pictures of one subject.
#[derive(Debug, Clone, PartialEq)]
pub struct Chapter {
    /// Its heading.
    pub title: &'static str,
    /// The size of its pictures on a screen and on a phone.
    pub sizes: (Size, Size),
    /// Its pictures.
    pub pictures: Vec<Picture>,
}

impl Review {
    /// All pictures that there is something to be seen in, those of the opening night first and large.
    pub fn chapters(&self, earlier: Option<&Earlier<'_>>) -> Vec<Chapter> {
        let air = Variable::pictured().map(|variable| match variable {
            Variable::SPREAD => self.spread(earlier),
            other => self.climate_picture(other, earlier),
        });
        let plant = [self.height(earlier), self.growth(earlier)].into_iter().chain(self.degree_days(earlier));
        let (usual, large) = ((Size::WIDE, Size::NARROW), (Size::WIDE_LARGE, Size::NARROW_LARGE));
        let chapters = [
            ("The opening night", large, self.opening_night(earlier).into_iter().collect::<Vec<_>>()),
            ("The plant", usual, plant.collect()),
            ("The air and the light", usual, air.chain([self.daily_light()]).collect()),
        ];
        let chapters = chapters.into_iter().map(|(title, sizes, mut pictures)| {
            pictures.retain(|picture| !picture.chart.is_empty());
            Chapter { title, sizes, pictures }
        });
        chapters.filter(|chapter| !chapter.pictures.is_empty()).collect()
    }
}

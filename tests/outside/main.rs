//! The model and the formats against published tables and independent computations; each module names its source.

mod degree_days;
mod heat;
mod jump;
mod kinship;
mod level_and_rate;
mod moisture;
mod published_blooms;
mod second_hand;
mod senml;
mod sound;
mod spadix;

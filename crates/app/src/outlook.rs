//! The outlook of one yard as the faces show it: flow, bloom, gain by day, and when its boxes are full.

use outyard_base::{Range, YardId};
use outyard_trade::KindCounts;
use serde::Serialize;

use crate::due::Followed;
use crate::plan::day_of;
use crate::seasons::YardAhead;
use crate::situation::Situation;
use crate::views::{DatesView, RangeView};

/// Bloom of one plant.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BloomView {
    /// Code of the plant.
    pub plant: String,
    /// First bloom.
    pub first: DatesView,
    /// End of bloom.
    pub end: DatesView,
}

/// Gain of a strong colony on one day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GainView {
    /// The day.
    pub date: String,
    /// Kilograms.
    pub kg: RangeView,
}

/// Colonies that fill alike.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StackView {
    /// How many of what kind they were.
    pub colonies: String,
    /// Day 0 of their brood clocks.
    pub put_down_on: String,
    /// Honey above the excluder of one of them.
    pub held_kg: f64,
    /// Room above the excluder of one of them this morning.
    pub room_kg: f64,
    /// When the room is full.
    pub full: DatesView,
}

/// The outlook of one yard.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct YardView {
    /// The yard.
    pub yard: String,
    /// When the flow begins.
    pub flow_begins: DatesView,
    /// When it ends.
    pub flow_ends: DatesView,
    /// Bloom of what grows round it.
    pub bloom: Vec<BloomView>,
    /// Gain of a strong colony by day.
    pub gain_by_day: Vec<GainView>,
    /// What stands above the excluders.
    pub stacks: Vec<StackView>,
    /// Scale colonies against the model: low, likely, high.
    pub scale_factor: RangeView,
    /// What the outlook rests on.
    pub based_on: Vec<String>,
}

/// The outlook of a yard.
pub fn yard_view(situation: &Situation, id: &YardId, stacks: &[Followed], ahead: &YardAhead) -> YardView {
    let season = &ahead.season;
    let deep_kg = situation.jobs.worth.full_deep_kg.get();
    let days = season.gain.first().map_or(0, Vec::len);
    let gain_by_day = (0..days)
        .filter_map(|day| {
            let sample: Vec<f64> = season.gain.iter().map(|member| member[day]).collect();
            let kg = RangeView::of(Range::of_sample(&sample)?);
            Some(GainView { date: day_of(season.first, day).to_string(), kg })
        })
        .collect();
    YardView {
        yard: id.as_str().to_owned(),
        flow_begins: DatesView::of(&season.begins),
        flow_ends: DatesView::of(&season.ends),
        bloom: ahead
            .bloom
            .iter()
            .map(|bloom| BloomView {
                plant: bloom.plant.as_str().to_owned(),
                first: DatesView::of(&bloom.first),
                end: DatesView::of(&bloom.end),
            })
            .collect(),
        gain_by_day,
        stacks: stacks
            .iter()
            .filter_map(|one| {
                let put_down_on = one.stack.day0?.to_string();
                Some(StackView {
                    colonies: KindCounts::of(&[(one.stack.kind, one.stack.colonies)]).to_string(),
                    put_down_on,
                    held_kg: one.stack.colony.honey_above_kg(),
                    room_kg: one.stack.deeps * deep_kg,
                    full: DatesView::of(&one.ahead.full),
                })
            })
            .collect(),
        scale_factor: RangeView::of(ahead.factor),
        based_on: season.based_on.clone(),
    }
}

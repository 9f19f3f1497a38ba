//! Boxes and comb against published sizes and weights.

use outyard_base::Kilograms;
use outyard_trade::boxes::{BoxDepth, BoxWidth, FrameCount, USUAL_CELLS_PER_DM2, cells_per_dm2_one_side};

fn near(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance, "{what}: {found}, expected {expected}");
}

// Hexagon geometry 2/(√3·d²), table of trade facts 2.1 (worked by an independent script).
#[test]
fn cells_on_one_side_of_a_square_decimetre() {
    for (across, cells) in [
        (4.9, 480.9),
        (5.1, 443.9),
        (5.2, 427.0),
        (5.3, 411.1),
        (5.37, 400.4),
        (5.4, 396.0),
        (6.2, 300.4),
        (6.4, 281.9),
        (6.6, 265.1),
    ] {
        near(cells_per_dm2_one_side(across), cells, 0.05, "cells");
    }
    // Per square inch (0.064516 dm²): 25.8 at 5.37 mm, in the published 25 to 27.
    near(cells_per_dm2_one_side(5.37) * 0.064_516, 25.8, 0.05, "cells to the square inch");
}

// [CellsPerInch] handbook: 6,600 to 7,000 cells a deep frame; 4,500-4,700 and 3,800-3,900 at 400 a dm², common practice.
#[test]
fn worker_cells_of_a_frame() {
    for (depth, low, high) in
        [(BoxDepth::Deep, 6970.0, 7040.0), (BoxDepth::Medium, 4500.0, 4700.0), (BoxDepth::Shallow, 3800.0, 3930.0)]
    {
        let cells = depth.facts().cells_per_frame(USUAL_CELLS_PER_DM2);
        assert!((low..=high).contains(&cells), "{}: {cells}", depth.code());
    }
    // 135 in² is 871 cm².
    near(BoxDepth::Deep.facts().comb_one_side_cm2, 135.0 * 6.4516, 7.0, "deep comb");
}

// Trade facts 2.2: 34.9, 41.3, 46.5 mm.
#[test]
fn frames_share_the_box() {
    for (frames, spacing) in [(FrameCount::Ten, 34.9), (FrameCount::Nine, 41.3), (FrameCount::Eight, 46.5)] {
        near(frames.spacing_mm(), spacing, 0.05, "spacing");
    }
}

// [BoxSizes]: 465 x 373 x 243 mm; litres 42.2 / 29.2 / 25.1 for ten frames, 35.4 / 24.3 / 20.9 for eight.
#[test]
fn room_inside_a_box() {
    for (depth, ten, eight) in
        [(BoxDepth::Deep, 42.2, 35.2), (BoxDepth::Medium, 29.2, 24.3), (BoxDepth::Shallow, 25.1, 20.9)]
    {
        near(depth.facts().volume(BoxWidth::TenFrame).get(), ten, 0.1, depth.code());
        near(depth.facts().volume(BoxWidth::EightFrame).get(), eight, 0.1, depth.code());
    }
    // 19 7/8 x 16 1/4 in outside [BoxSizesInches].
    near(outyard_trade::boxes::OUTSIDE_LENGTH_MM, 19.875 * 25.4, 0.5, "outside length");
    near(BoxWidth::TenFrame.outside_mm(), 16.25 * 25.4, 0.5, "outside width");
}

// Trade facts 2.4, geometry check: kilograms a frame for 10 / 9 / 8 frames, and a box. The table took the spacing to
// the nearest 0.1 mm and gives two decimals: 0.008 kg covers both.
#[test]
fn the_most_honey_a_frame_can_hold() {
    let counts = [FrameCount::Ten, FrameCount::Nine, FrameCount::Eight];
    for (depth, frame_kg, box_kg) in [
        (BoxDepth::Deep, [3.12, 3.86, 4.46], [31.0, 35.0, 36.0]),
        (BoxDepth::Medium, [2.04, 2.53, 2.92], [20.0, 23.0, 23.0]),
        (BoxDepth::Shallow, [1.74, 2.15, 2.49], [17.0, 19.0, 20.0]),
    ] {
        for (index, frames) in counts.into_iter().enumerate() {
            near(depth.facts().most_honey_per_frame(frames).get(), frame_kg[index], 0.008, depth.code());
            near(depth.facts().most_honey_per_box(frames).get(), box_kg[index], 0.5, depth.code());
        }
        assert!(depth.facts().most_honey_per_box(counts[1]) >= depth.facts().most_honey_per_box(counts[0]));
    }
}

// [FullYields] 60-70 / 35-40 / 25-30 lb; [GrossFull] 80-90, 50-60, 30-40 lb; [FrameHoney] 6-8, 3.5-5 lb.
#[test]
fn published_weights_in_pounds() {
    for (depth, honey, gross, frame) in [
        (BoxDepth::Deep, (60.0, 70.0), (80.0, 90.0), (6.0, 8.0)),
        (BoxDepth::Medium, (35.0, 40.0), (50.0, 60.0), (3.5, 5.0)),
        (BoxDepth::Shallow, (25.0, 30.0), (30.0, 40.0), (2.5, 3.5)),
    ] {
        let facts = depth.facts();
        let pounds = |kilograms: Kilograms| kilograms.pounds();
        near(pounds(facts.full_honey.low), honey.0, 0.2, depth.code());
        near(pounds(facts.full_honey.high), honey.1, 0.2, depth.code());
        near(pounds(facts.full_gross.low), gross.0, 1.7, depth.code());
        near(pounds(facts.full_gross.high), gross.1, 0.6, depth.code());
        near(pounds(facts.frame_honey.low), frame.0, 0.1, depth.code());
        near(pounds(facts.frame_honey.high), frame.1, 0.1, depth.code());
    }
}

#[test]
fn planning_stays_on_the_low_side_and_every_range_in_order() {
    assert!((BoxDepth::Deep.facts().planning_honey.get() - 24.0).abs() < 1e-12, "job facts 4: 24 kg a deep");
    for depth in BoxDepth::ALL {
        let facts = depth.facts();
        assert_eq!(facts.depth, depth);
        for range in [facts.full_honey, facts.full_gross, facts.empty_drawn, facts.frame_honey] {
            assert!(range.low < range.likely && range.likely < range.high, "{range:?}");
        }
        assert!(facts.planning_honey <= facts.full_honey.likely, "{}", depth.code());
        assert!(facts.full_honey.high <= facts.most_honey_per_box(FrameCount::Nine), "{}", depth.code());
        assert!(facts.planning_gross >= facts.full_gross.low && facts.planning_gross <= facts.full_gross.high);
    }
}

//! A text as a picture for a camera (ISO/IEC 18004), on a screen or in a terminal.

use qrcode::render::svg;
use qrcode::{Color, EcLevel, QrCode};

/// Light around the picture, in its own squares (ISO/IEC 18004: four).
const MARGIN: usize = 4;

fn squares(text: &str) -> Option<QrCode> {
    QrCode::with_error_correction_level(text, EcLevel::M).ok()
}

/// As a picture; empty for a text too long for one.
pub(crate) fn picture(text: &str) -> String {
    squares(text).map_or_else(String::new, |code| {
        code.render::<svg::Color<'_>>().min_dimensions(240, 240).dark_color(svg::Color("#000")).build()
    })
}

/// In letters, two squares over one another in each; nothing when it is wider than the terminal. Dark squares are left
/// blank, as terminals are mostly dark: cameras read both.
pub fn in_letters(text: &str, width: usize) -> Option<String> {
    let code = squares(text)?;
    let side = code.width() + 2 * MARGIN;
    if side > width {
        return None;
    }
    let colors = code.to_colors();
    let is_light = |across: usize, down: usize| {
        let inside = MARGIN..MARGIN + code.width();
        !(inside.contains(&across) && inside.contains(&down))
            || colors[(down - MARGIN) * code.width() + across - MARGIN] == Color::Light
    };
    let mut lines = String::new();
    for down in (0..side).step_by(2) {
        for across in 0..side {
            lines.push(match (is_light(across, down), down + 1 < side && is_light(across, down + 1)) {
                (true, true) => '█',
                (true, false) => '▀',
                (false, true) => '▄',
                (false, false) => ' ',
            });
        }
        lines.push('\n');
    }
    Some(lines)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_fits_the_terminal_or_is_left_out() {
        let text = "https://192.168.100.100:7340/pair#ABCD-EFGH";
        let lines = in_letters(text, 80).unwrap();
        assert!(lines.lines().all(|line| line.chars().count() <= 80) && lines.lines().count() <= 24, "{lines}");
        assert_eq!(in_letters(text, 20), None);
        assert!(picture(text).starts_with("<?xml") && picture(&"x".repeat(9000)).is_empty());
    }
}

//! Where the spurious domain of an emission begins: Recommendation ITU-R SM.1539.

use spurline_units::Hertz;

use crate::finding::Status;
use Status::{FromMemory, SecondHand};

/// One row of the table. Each cell was checked to a degree of its own.
struct Row {
    up_to_hz: f64,
    /// Below this bandwidth the boundary stays where it is for it.
    narrow_hz: f64,
    narrow_status: Status,
    /// Above this bandwidth the boundary moves out by one and a half bandwidths only.
    wide_hz: f64,
    wide_status: Status,
}

/// Two and a half necessary bandwidths, as national examination courses and emission studies restate it.
const NORMAL: Status = SecondHand;

/// ITU-R SM.1539, not read in the original: `second-hand` cells as restated by a national examination course (10 kHz and
/// 62.5 kHz) and by an emission study (the wide cells from 1 GHz on), the others from memory. An end belongs to its row.
const ROWS: [Row; 6] = [
    row(150e3, 250.0, FromMemory, 10e3, FromMemory),
    row(30e6, 4e3, SecondHand, 100e3, FromMemory),
    row(1e9, 25e3, SecondHand, 10e6, FromMemory),
    row(3e9, 100e3, FromMemory, 50e6, SecondHand),
    row(10e9, 100e3, FromMemory, 100e6, FromMemory),
    row(15e9, 300e3, FromMemory, 250e6, SecondHand),
];
/// From 15 to 26 GHz nobody has found a row; above it there is one.
const GAP_UP_TO_HZ: f64 = 26e9;
const HIGHEST: Row = row(300e9, 1e6, FromMemory, 500e6, SecondHand);
const LOWEST_HZ: f64 = 9e3;

const fn row(up_to_hz: f64, narrow_hz: f64, narrow_status: Status, wide_hz: f64, wide_status: Status) -> Row {
    Row { up_to_hz, narrow_hz, narrow_status, wide_hz, wide_status }
}

/// Where the spurious domain begins, on either side of the emission's centre.
#[derive(Clone, Debug, PartialEq)]
pub struct SpuriousBoundary {
    /// How far from the centre.
    pub separation: Hertz,
    /// How far the cell that answered was checked.
    pub status: Status,
    /// How it follows, a line a step.
    pub derivation: Vec<String>,
}

/// Where the spurious domain of an emission begins, by the frequency of its centre and its necessary bandwidth.
///
/// `None` where the table that was read has no row: below 9 kHz, from 15 to 26 GHz, and above 300 GHz.
#[must_use]
pub fn spurious_boundary(centre: Hertz, necessary_bandwidth: Hertz) -> Option<SpuriousBoundary> {
    let row = row_of(centre.get())?;
    let (narrow, wide) = (Hertz::new(row.narrow_hz), Hertz::new(row.wide_hz));
    let width = necessary_bandwidth;
    let (separation, status, step) = if width < narrow {
        let separation = narrow * 2.5;
        let step =
            format!("{width} is below {narrow}, for which it stays: 2.5 times {narrow} = {separation}");
        (separation, row.narrow_status, step)
    } else if width > wide {
        let separation = width * 1.5 + wide;
        let step = format!("{width} is above {wide}: 1.5 times {width} + {wide} = {separation}");
        (separation, row.wide_status, step)
    } else {
        let separation = width * 2.5;
        let step = format!("2.5 times {width} = {separation}; {width} lies from {narrow} to {wide}");
        (separation, NORMAL, step)
    };
    let mut derivation = vec![
        format!("Recommendation ITU-R SM.1539, not read in the original, {status}"),
        format!("centre {centre}, necessary bandwidth {width}"),
        step,
    ];
    if let Some(caveat) = status.caveat() {
        derivation.push(format!("{caveat}: this cell is {status}"));
    }
    Some(SpuriousBoundary { separation, status, derivation })
}

fn row_of(hertz: f64) -> Option<&'static Row> {
    const TOP: &Row = &HIGHEST;
    if hertz < LOWEST_HZ {
        return None;
    }
    if hertz > GAP_UP_TO_HZ {
        return (hertz <= TOP.up_to_hz).then_some(TOP);
    }
    const TABLE: &[Row] = &ROWS;
    TABLE.iter().find(|row| hertz <= row.up_to_hz)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn khz(centre_mhz: f64, bandwidth_khz: f64) -> Option<f64> {
        let boundary = spurious_boundary(Hertz::from_mhz(centre_mhz), Hertz::new(bandwidth_khz * 1e3))?;
        Some(boundary.separation.get() / 1e3)
    }

    /// 10 kHz and 62.5 kHz: a national examination course; 2.5 bandwidths: the same; the wide cells from 1 GHz on: an
    /// emission study. What stands between the clamps is worked by hand.
    #[test]
    fn the_boundary_goes_by_bandwidth_and_band() {
        for (centre, bandwidth, boundary) in [
            // 16K0F3E at 146 MHz and 6K00A3E at 127 MHz: narrower than 25 kHz.
            (146.0, 16.0, 62.5),
            (127.0, 6.0, 62.5),
            // 2K70J3E at 14 MHz: narrower than 4 kHz. 6K00A3E at 27 MHz is not.
            (14.0, 2.7, 10.0),
            (27.0, 6.0, 15.0),
            (146.0, 25.0, 62.5),
            (146.0, 30.0, 75.0),
            (2_000.0, 60_000.0, 140_000.0),
            (12_000.0, 400_000.0, 850_000.0),
            (28_000.0, 600_000.0, 1_400_000.0),
        ] {
            assert_eq!(khz(centre, bandwidth), Some(boundary), "{centre} MHz, {bandwidth} kHz");
        }
    }

    /// The formulas of one row meet at both clamps; a figure that was copied with a slip would part them.
    #[test]
    fn a_row_has_no_step() {
        for row in ROWS.iter().chain([&HIGHEST]) {
            let centre = Hertz::new(row.up_to_hz);
            let at = |width: f64| spurious_boundary(centre, Hertz::new(width)).unwrap().separation.get();
            for clamp in [row.narrow_hz, row.wide_hz] {
                let (below, above) = (at(clamp * 0.999_999), at(clamp * 1.000_001));
                assert!((above / below - 1.0).abs() < 1e-5, "{centre}: {below} and {above} Hz");
            }
        }
    }

    #[test]
    fn where_no_row_was_found_there_is_no_answer() {
        for (centre_mhz, is_there) in [(0.008_9, false), (0.009, true), (15_000.0, true), (15_001.0, false)] {
            assert_eq!(khz(centre_mhz, 1.0).is_some(), is_there, "{centre_mhz} MHz");
        }
        assert_eq!(khz(26_000.0, 1.0), None);
        assert!(khz(26_001.0, 1.0).is_some());
        assert_eq!(khz(300_001.0, 1.0), None);
    }

    #[test]
    fn each_cell_tells_how_far_it_was_checked() {
        let status = |mhz: f64, khz: f64| {
            spurious_boundary(Hertz::from_mhz(mhz), Hertz::new(khz * 1e3)).unwrap().status
        };
        assert_eq!(status(146.0, 16.0), SecondHand);
        assert_eq!(status(2_000.0, 16.0), FromMemory);
        assert_eq!(status(146.0, 20_000.0), FromMemory);
        assert_eq!(status(2_000.0, 60_000.0), SecondHand);
    }
}

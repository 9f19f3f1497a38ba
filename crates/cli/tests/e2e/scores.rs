//! `bloom --score` and `scale score` on small invented files.

use std::fmt::Write as _;

use crate::common::{Outfit, find, number};

/// Twelve springs, warmer and colder in turn; the first day on which 120 degree days over 5 °C are summed is written down.
fn springs() -> (String, String) {
    let mut weather = "Year,Month,Day,Tmax,Tmin\n".to_owned();
    let mut bloom = "Year,seen\n".to_owned();
    for year in 0..12_i32 {
        let warmth = f64::from((year * 7) % 5) - 2.0;
        let mut sum = 0.0;
        let mut seen = None;
        for day in 0..150_i32 {
            let mean = 2.0 + 0.09 * f64::from(day) + warmth + f64::from((day * 13 + year * 5) % 7) - 3.0;
            let (month, of_month) = [(1, 0), (2, 31), (3, 59), (4, 90), (5, 120)]
                .into_iter()
                .rfind(|(_, before)| *before <= day)
                .map(|(month, before)| (month, day - before + 1))
                .unwrap();
            let _ = writeln!(weather, "{},{month},{of_month},{:.1},{:.1}", 2001 + year, mean + 5.0, mean - 5.0);
            sum += (mean - 5.0).max(0.0);
            if seen.is_none() && sum >= 120.0 {
                seen = Some(day + 1);
            }
        }
        let _ = writeln!(bloom, "{},{}", 2001 + year, seen.unwrap());
    }
    bloom.push_str("2013,\n");
    (weather, bloom)
}

const BLOOM: &str = "bloom --score bloom.csv --record-column day_of_year=seen --weather weather.csv --column low_c=Tmin \
                     --column high_c=Tmax";

#[test]
fn bloom_is_foretold_from_the_other_years_by_every_rule() {
    let (weather, bloom) = springs();
    let outfit = Outfit::of(&[("weather.csv", &weather), ("bloom.csv", &bloom)]);
    let told = outfit.json(BLOOM);
    let rules = &told[0]["rules"];
    let error = |rule: &str| number(&find(rules, "rule", rule)["mean_absolute_days"]);
    let plain = error("plain degree days over 5 °C from 1 January");
    let fixed = error("fixed date: mean of the other years");
    assert!(plain <= 1.5 && fixed > 4.0, "{plain} and {fixed} days");
    assert!(error("heat sum, base and start learnt") < 0.6 * fixed);
    assert_eq!(find(rules, "rule", "fixed date: mean of the other years")["by_year"].as_array().unwrap().len(), 12);
    let page = outfit.page(BLOOM);
    assert!(page.contains("mean size") && page.contains("bias") && page.contains("worst"), "{page}");
    assert!(page.contains("[BLM-101]"), "{page}");
    // A plant of the table is scored beside them; a plant nobody knows is refused.
    assert_eq!(outfit.json(&format!("{BLOOM} apple"))[0]["rules"].as_array().unwrap().len(), 6);
    assert_eq!(outfit.faults(&format!("{BLOOM} no-such-plant"))[0].code, "PLT-007");
}

/// Thirty days of five minutes: a box of 7 kg put on, an inspection that leaves nothing.
fn scale() -> String {
    let mut text = "timestamp,weight_lb\n".to_owned();
    for minute in (0..30 * 1440_i32).step_by(5) {
        let (day, of_day) = (minute / 1440, minute % 1440);
        let mut kg = 40.0 + 0.02 * f64::from((minute * 7) % 11) / 11.0;
        kg += if day < 16 || (day == 16 && of_day < 600) { 0.0 } else { 7.0 };
        kg -= if day == 22 && (700..740).contains(&of_day) { 12.0 } else { 0.0 };
        // A flow of 2 kg a day from the 11th to the 19th day.
        let into_flow = (f64::from(minute) / 1440.0 - 10.0).clamp(0.0, 9.0);
        kg += 2.0 * (into_flow.floor() + (24.0 * into_flow.fract() / 11.0 - 0.75).clamp(0.0, 1.0));
        let _ = writeln!(text, "2026-06-{:02} {:02}:{:02},{:.3}", day + 1, of_day / 60, of_day % 60, kg / 0.453_592_37);
    }
    text
}

const LABELS: &str = "series,timestamp,kind,kg,confidence,note\n\
    hive,2026-06-17T10:00,box_added,7,high,\n\
    hive,2026-06-23T11:40,inspection,0,high,transient until 12:20; put back\n\
    hive,2026-06-11T06:00,flow_start,,high,\n\
    hive,2026-06-20T06:00,flow_end,,high,\n\
    hive,2026-06-28T10:00,box_removed,-5,high,that never was\n\
    other,2026-06-28T10:00,box_removed,-5,high,no file given\n";

#[test]
fn a_scale_is_scored_against_its_labels() {
    let outfit = Outfit::of(&[("hive_june.csv", &scale()), ("labels.csv", LABELS)]);
    let words = "scale score hive_june.csv --labels labels.csv";
    let told = outfit.json(words);
    assert!((number(&told["all"]["precision"]) - 1.0).abs() < 1e-9);
    assert!((number(&told["all"]["recall"]) - 0.5).abs() < 1e-9);
    assert_eq!((&told["all"]["inspections"], &told["all"]["inspections_with_change"]), (&1.into(), &0.into()));
    assert_eq!(told["all"]["misses"].as_array().unwrap().len(), 1);
    assert_eq!(told["flow_by_rule"]["begins_days"].as_array().unwrap(), &[serde_json::json!(0)]);
    assert!(number(&told["flow_by_rule"]["ends_days"][0]).abs() <= 1.0, "{told}");
    assert_eq!(told["series"][0]["step_minutes"], 5);
    let page = outfit.page(words);
    assert!(page.contains("0.500 (1 of 2)") && page.contains("not found: box taken off"), "{page}");
    assert!(page.contains("[SCL-106]"), "{page}");
}

#[test]
fn labels_that_cannot_be_are_told_with_their_place() {
    let outfit = Outfit::of(&[("hive.csv", &scale()), ("labels.csv", &LABELS.replace("box_added", "honey"))]);
    let fault = &outfit.faults("scale score hive.csv --labels labels.csv")[0];
    assert_eq!((fault.code.as_str(), fault.line, fault.column.as_deref()), ("SCL-007", Some(2), Some("kind")));
    outfit.put("labels.csv", LABELS);
    outfit.put("cellar.csv", scale());
    assert_eq!(outfit.faults("scale score cellar.csv --labels labels.csv")[0].code, "SCL-011");
}

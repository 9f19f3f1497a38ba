//! One yard's sheet and one day's run, from the counts alone: no weather, no plan, only the job book, the clocks and the
//! roads. This is what an owner checks with a pencil.

use jiff::civil::Date;
use outyard_base::{Cents, ClockTime, JobCode, Minutes, Trouble, YardId};
use outyard_runs::problem::{Crew, Day, Gate, Lunch, RunParts, RunProblem, Truck, Visit};
use outyard_runs::{Run, RunTimes, schedule};
use outyard_trade::clocks::{ClockStart, DatedMark, dated_marks};
use outyard_trade::jobbook::{GearSum, JobBook, LoadLine, Work};
use outyard_trade::{Kind, KindCounts};

use crate::roads::RoadMap;
use crate::settings::{CrewRule, Settings, TruckRule};

/// What the put-down of one yard takes.
#[derive(Clone, Debug, PartialEq)]
pub struct YardSheet {
    /// The jobs, with their colonies.
    pub jobs: Vec<(JobCode, KindCounts)>,
    /// Minutes at the yard.
    pub minutes: Minutes,
    /// Load list for this yard alone.
    pub load: Vec<LoadLine>,
    /// Gear, to add up over a run.
    pub gear: GearSum,
    /// Brood clocks that start when it is done on the day.
    pub clocks: Vec<DatedMark>,
    /// Cautions, each once.
    pub cautions: Vec<String>,
}

/// Works out the sheet of a yard to be put down: doubles by the given job, splits by lifting brood.
///
/// # Errors
/// `TRD-010` when the job is not in the job book, `DAY-001` when nothing stands there to be put down.
pub fn yard_sheet(
    jobs: &JobBook,
    yard: &YardId,
    standing: &KindCounts,
    by: &JobCode,
    hands: u32,
    on: Date,
) -> Result<YardSheet, Trouble> {
    let down = jobs.job(by.as_str())?;
    let lift = jobs.job("brood-lift")?;
    let parts = [(down, standing.only(&[Kind::Double])), (lift, standing.only(&[Kind::Split]))];
    let work: Vec<Work<'_>> = parts
        .iter()
        .filter(|(job, colonies)| !job.colonies(colonies).is_empty())
        .map(|(job, colonies)| Work { job, colonies: *colonies })
        .collect();
    if work.is_empty() {
        return Err(Trouble::new(
            "DAY-001",
            format!("yard {yard} has no doubles and no splits to put down ({standing})"),
            "count the yard again if that is wrong: outyard yards import, or close its visits first",
        ));
    }
    let gear = jobs.gear_out(&work);
    let mut starts: Vec<ClockStart> = work.iter().flat_map(|work| work.job.starts.iter().copied()).collect();
    starts.sort_unstable();
    starts.dedup();
    let mut cautions: Vec<String> = Vec::new();
    for caution in work.iter().flat_map(|work| &work.job.cautions) {
        // One that another begins with says nothing more.
        if !cautions.iter().any(|known| known.starts_with(caution.as_str())) {
            cautions.push(caution.clone());
        }
    }
    cautions.extend(JobBook::hands_caution(hands).map(str::to_owned));
    Ok(YardSheet {
        jobs: work.iter().map(|work| (work.job.code.clone(), work.colonies)).collect(),
        minutes: jobs.service_minutes(&work, hands),
        load: jobs.load_list(&gear),
        gear,
        clocks: starts.into_iter().flat_map(|start| dated_marks(start, on)).collect(),
        cautions,
    })
}

/// A day through several yards in a given order.
#[derive(Clone, Debug, PartialEq)]
pub struct DayFit {
    /// The sheet of each yard, in that order.
    pub sheets: Vec<YardSheet>,
    /// Times; `None` when the day cannot be driven within its gates, lunch and shift.
    pub times: Option<RunTimes>,
    /// Why it does not fit, when it does not.
    pub why_not: Option<String>,
    /// Load list for the whole run.
    pub load: Vec<LoadLine>,
    /// Places of a deep box the load takes on the deck.
    pub deck_places: f64,
    /// Its weight in kilograms.
    pub weight_kg: f64,
    /// True when it goes on the truck at once.
    pub one_load: bool,
}

/// What a day is held against.
#[derive(Clone, Copy, Debug)]
pub struct DayInput<'a> {
    /// The outfit's settings.
    pub settings: &'a Settings,
    /// Its job book.
    pub jobs: &'a JobBook,
    /// Roads between home and the yards, in the order of the day.
    pub roads: &'a RoadMap,
    /// The crew.
    pub crew: &'a CrewRule,
    /// Its truck.
    pub truck: &'a TruckRule,
    /// Hours in which the job can be done.
    pub gate: (ClockTime, ClockTime),
}

/// Holds a day through yards against the crew's hours, the gate and the truck.
///
/// # Errors
/// What [`RunProblem::new`] finds.
pub fn day_fits(input: &DayInput<'_>, yards: &[YardId], sheets: Vec<YardSheet>) -> Result<DayFit, Vec<Trouble>> {
    let gear = sheets.iter().fold(GearSum::default(), |sum, sheet| sum.and(&sheet.gear));
    let load = input.jobs.load_list(&gear);
    let deck_places: f64 = load.iter().map(|line| line.box_places).sum();
    let weight_kg: f64 = load.iter().map(|line| line.weight.get()).sum();
    let stays: f64 = input
        .jobs
        .load_list(&GearSum { in_yards: gear.in_yards.clone(), with_crew: std::collections::BTreeMap::new() })
        .iter()
        .filter(|line| input.jobs.gear.get(&line.gear).is_some_and(|gear| gear.holds_deeps > 0.0))
        .map(|line| line.box_places)
        .sum();
    // Boxes make the load; what the crew carries rides in the cab, on the tongue or between the stacks.
    let one_load = stays <= f64::from(input.truck.deeps_empty) && weight_kg <= input.truck.payload.kilograms().get();
    let (problem, run) = one_run(input, yards, &sheets)?;
    let times = schedule(&problem, &run);
    let longest = input.crew.longest;
    let why_not = match &times {
        None => Some("the yards cannot all be done within the hours of the gate".to_owned()),
        Some(times) if times.away() > longest => Some(format!(
            "the crew would be away {}, and {} is the longest day",
            times.away().spoken(),
            longest.spoken()
        )),
        Some(_) => None,
    };
    Ok(DayFit { sheets, times, why_not, load, deck_places, weight_kg, one_load })
}

fn one_run(input: &DayInput<'_>, yards: &[YardId], sheets: &[YardSheet]) -> Result<(RunProblem, Run), Vec<Trouble>> {
    let (from, to) = input.gate;
    let visits = yards
        .iter()
        .zip(sheets)
        .map(|(yard, sheet)| Visit {
            gates: vec![Gate::Open { from, to }],
            ..Visit::plain(
                yard.clone(),
                "put down",
                input.roads.node(yard).expect("the road map was made of these yards"),
                sheet.minutes,
                Cents::ZERO,
                1,
            )
        })
        .collect();
    let crew = Crew {
        id: input.crew.id.clone(),
        hands: input.crew.hands,
        // The sheets' minutes are this crew's own already.
        pace_permille: 1000,
        base: RoadMap::HOME,
        earliest_leave: input.crew.leave,
        shift: input.crew.shift,
        // Told apart from the gate by the caller: a day too long is still drawn up, and said to be too long.
        shift_max: Minutes(24 * 60),
        wage_per_minute: Cents::ZERO,
        overtime_extra_per_minute: Cents::ZERO,
        days_off: Vec::new(),
        lunch: (input.crew.lunch > Minutes::ZERO)
            .then_some(Lunch { length: input.crew.lunch, begin_within: input.crew.lunch_within }),
        trucks: vec![0],
    };
    let problem = RunProblem::new(RunParts {
        days: vec![Day::WHOLE],
        roads: input.roads.table.clone(),
        gear: Vec::new(),
        trucks: vec![Truck { id: input.truck.id.clone(), volume: 0, payload: input.truck.payload }],
        crews: vec![crew],
        visits,
        max_stops: yards.len().clamp(1, 12),
        cents_per_km: Cents::ZERO,
        together: Vec::new(),
        apart: Vec::new(),
    })?;
    let run = Run { day: 0, crew: 0, truck: 0, stops: (0..yards.len()).collect() };
    Ok((problem, run))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::drives::read_drives;
    use crate::intake::table::ColumnMap;
    use crate::settings::read_settings;
    use jiff::civil::date;
    use std::collections::BTreeMap;

    fn counts(doubles: u32, splits: u32) -> KindCounts {
        KindCounts::of(&[(Kind::Double, doubles), (Kind::Split, splits)])
    }

    fn sheet(doubles: u32, splits: u32, hands: u32) -> YardSheet {
        let by: JobCode = "single-down-blow".parse().unwrap();
        let yard: YardId = "7".parse().unwrap();
        yard_sheet(&JobBook::standard(), &yard, &counts(doubles, splits), &by, hands, date(2026, 7, 3)).unwrap()
    }

    // Scene S1, with other counts too: 25 minutes to set up, 4 a double, 5 a split, 5 % spare.
    #[test]
    fn scene_1_the_yard_sheet() {
        for (doubles, splits, minutes, boxes) in [(26, 6, 159, 34), (20, 10, 155, 32), (34, 0, 161, 36), (0, 9, 70, 10)]
        {
            let sheet = sheet(doubles, splits, 2);
            assert_eq!(sheet.minutes, Minutes(minutes));
            let loaded = |code: &str| sheet.load.iter().find(|line| line.gear.as_str() == code).map(|line| line.load);
            assert_eq!((loaded("excluder"), loaded("third")), (Some(boxes), Some(boxes)));
            let blown = doubles > 0;
            assert_eq!((loaded("rim"), loaded("blower")), if blown { (Some(2), Some(1)) } else { (None, None) });
        }
        let empty = yard_sheet(
            &JobBook::standard(),
            &"7".parse().unwrap(),
            &KindCounts::of(&[(Kind::Single, 9)]),
            &"single-down-blow".parse().unwrap(),
            2,
            date(2026, 7, 3),
        );
        assert_eq!(empty.unwrap_err().code, "DAY-001");
    }

    fn scene_2(gate_to: ClockTime, longest: u32) -> DayFit {
        let settings = read_settings(
            "outfit.toml",
            &format!(
                "name='x'\n[home]\nlatitude=45\nlongitude=-93\nzone='UTC'\n[[truck]]\nname='T'\ndeeps_empty=120\npayload_kg=2300\n\
                 [[crew]]\nname='C'\ntruck='T'\nleave='06:00'\nshift_min=600\nlongest_min={longest}\n"
            ),
        )
        .unwrap();
        let text = "from,to,minutes\nhome,7,25\n7,12,15\n12,19,20\n19,home,40\nhome,12,30\nhome,19,40\n7,19,30\n";
        let drives = read_drives("drives.csv", text, &ColumnMap::new()).unwrap();
        let yards: Vec<YardId> = ["7", "12", "19"].iter().map(|name| name.parse().unwrap()).collect();
        let roads =
            RoadMap::new(&settings, &drives, &crate::roads::RoadTimes::default(), yards.clone(), &BTreeMap::new())
                .unwrap();
        let jobs = JobBook::standard();
        let input = DayInput {
            settings: &settings,
            jobs: &jobs,
            roads: &roads,
            crew: &settings.crews[0],
            truck: &settings.trucks[0],
            gate: (ClockTime::at(9, 0), gate_to),
        };
        day_fits(&input, &yards, vec![sheet(26, 6, 2), sheet(20, 10, 2), sheet(34, 0, 2)]).unwrap()
    }

    // Scene S2.
    #[test]
    fn scene_2_the_day_fits() {
        let fit = scene_2(ClockTime::at(19, 0), 720);
        let times = fit.times.unwrap();
        let clock = |time: ClockTime| time.to_string();
        assert_eq!(clock(times.leave), "08:35");
        let stops: Vec<_> = times.stops.iter().map(|stop| (clock(stop.start), clock(stop.end))).collect();
        let want = [("09:00", "11:39"), ("11:54", "14:29"), ("15:19", "18:00")];
        assert_eq!(stops, want.map(|(from, to)| (from.to_owned(), to.to_owned())));
        assert_eq!(clock(times.home), "18:40");
        assert_eq!(times.gate_left(), Some(Minutes(60)));
        let thirds = fit.load.iter().find(|line| line.gear.as_str() == "third").unwrap();
        assert_eq!((thirds.needed, thirds.load), (96, 101));
        assert!(fit.one_load && fit.why_not.is_none());
    }

    #[test]
    fn a_day_that_does_not_fit_says_why() {
        let fit = scene_2(ClockTime::at(17, 30), 720);
        assert!(fit.times.is_none());
        assert_eq!(fit.why_not.unwrap(), "the yards cannot all be done within the hours of the gate");
        let fit = scene_2(ClockTime::at(19, 0), 600);
        assert_eq!(fit.why_not.unwrap(), "the crew would be away 10 h 05, and 10 h 00 is the longest day");
    }
}

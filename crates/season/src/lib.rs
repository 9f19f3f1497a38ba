//! The season at the yards: weather seen and to come, degree days, bloom, hours of flight, what the scales say, the
//! flow, and how long until the boxes are full.
//!
//! Everything here is pure: weather, readings, today's date and the seed are arguments. Ahead of the forecast the
//! weather is drawn from the station's own past years, so every outlook is an ensemble and every date an early, a
//! likely and a late one.

pub mod blend;
pub mod colony;
pub mod degree_days;
pub mod fill;
pub mod filter;
pub mod flow;
pub mod flow_chance;
pub mod flow_state;
pub mod hours;
pub mod members;
pub mod plants;
pub mod scale;
pub mod waiting;
pub mod weather;

pub use blend::{BlendRules, Blended, Station, blend_to_place};
pub use colony::{Colony, ColonyRules, ForageDay};
pub use degree_days::{Cutoff, HeatRule, Method, day_sum, heat_sum};
pub use fill::{FillState, ReturnBy, Room, fill_dates, fill_day, full_after, loss_after_full, return_by};
pub use filter::{LearnRules, Learnt, ScaleYard, learn_group, outlook_learnt};
pub use flow::{ForagePart, OutlookInput, YardForage, YardOutlook, learn_factor, modelled_gain, outlook};
pub use flow_chance::{FlowChain, FlowChance, FlowWatch, flow_chances};
pub use flow_state::{FlowRule, FlowState, flow_state};
pub use hours::{GateVerdict, flight_hours, work_hours};
pub use members::{MemberRules, Members, draw_members, draw_members_by};
pub use plants::update::{
    BloomRecord, LeftOut, SeasonTold, SeenBloom, in_season, learn_from, learn_plant, leave_one_year_out, season_of,
    told_by_season,
};
pub use plants::{Bloom, BloomDays, Plant, PlantCode, PlantTable, bloom_dates};
pub use scale::{
    Change, ChangeKind, LevelPoint, Night, ScaleReading, ScaleRules, ScaleStream, read_instants, read_series,
};
pub use waiting::{
    Cause, ColonyAhead, Relief, Risks, WaitingCosts, WaitingInput, colonies_ahead, colony_ahead, waiting_costs,
};
pub use weather::{DayWeather, Normals, Origin, RepairRules, WeatherSeries, repair_gaps};

//! The record book of an outfit: entries that never change, the law by which they add up to the outfit as it stands,
//! the gear ledger that must balance, the box forecast, and the lines in which entries travel.
//!
//! **The law: what the book says depends only on the *set* of its entries.** Order of arrival, repeats and detours do
//! not matter. So two phones that were out of signal for days need only hand each other the entries the other lacks.
//!
//! | module | holds |
//! |---|---|
//! | [`entry`] | one entry: who, where, when, and the fact told |
//! | [`fact`] | the facts that can be told |
//! | [`gear`] | counts of gear, and the places gear can be |
//! | [`law`] | which entries stand once corrections and settlements are followed |
//! | [`outfit`] | the fold: the outfit as it stands |
//! | [`honey`] | lots, drums and sales: by mass, and both ways from yard to buyer |
//! | [`kept`] | what a book comes to up to a day, so that a long one opens quickly |
//! | [`ledger`] | gear by place, double entry; what it cannot place and what would settle it |
//! | [`stock`] | box stock by day, the first short day and the cheapest cure |
//! | [`set`] | what a set of entries comes to, in forty bytes |
//! | [`wire`] | JSON lines with a format number; unknown facts and fields are kept and passed on |

pub mod entry;
pub mod fact;
pub mod gear;
pub mod honey;
pub mod kept;
pub mod law;
pub mod ledger;
pub mod outfit;
pub mod set;
pub mod stock;
pub mod wire;

pub use entry::{ContentHash, Entry, EntryId, Unread};
pub use fact::{
    BoxesFrom, Drum, Extraction, Fact, Forage, JobDone, MiteSample, OddCounts, Photo, PlanTold, QueensGiven, Sale,
    SeriesKept, SprayCall, StaysHome, Tally, ToldRun, Treatment, WantedVisit, Where, YardKept, YardTerms,
};
pub use gear::{GearCounts, GearPlace};
pub use honey::{HoneyFault, HoneyHouse};
pub use law::Conflict;
pub use ledger::{GearBalance, Ledger, Proposal, Unplaced};
pub use outfit::{Outfit, Visit, Yard, fold};
pub use set::SetSum;
// The facts count colonies in these; who reads facts need not know another room for it.
pub use outyard_trade::{Kind, KindCounts};
pub use stock::{StockDay, forecast_stock};

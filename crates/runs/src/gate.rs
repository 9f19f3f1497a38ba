//! Gates and the shortest time away: a stretch of a run is summed up by four numbers that join in constant time.
//!
//! Vidal, Crainic, Gendreau & Prins 2013 (time-window segments), without time warp: a late arrival is refused.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | D | `span` | shortest time the stretch can take | min | sum of its parts and unavoidable waits | [Vidal2013, section 4.1] |
//! | E | `begin_first` | earliest begin that takes no longer than D | min after midnight | | [Vidal2013, section 4.1] |
//! | L | `begin_last` | latest begin that takes no longer than D and meets every gate | min after midnight | | [Vidal2013, section 4.1] |

/// Later than any clock time in use, yet far from overflow.
pub(crate) const NEVER: i64 = 1 << 40;

/// A stretch of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Stretch {
    /// Shortest time it can take.
    pub(crate) span: i64,
    /// Earliest begin of a shortest pass.
    pub(crate) begin_first: i64,
    /// Latest begin of a shortest pass.
    pub(crate) begin_last: i64,
}

impl Stretch {
    /// Being at home, ready to leave no earlier than `earliest`.
    pub(crate) fn home(earliest: i64) -> Self {
        Self { span: 0, begin_first: earliest, begin_last: NEVER }
    }

    /// Something that takes `span` and can be done at any time (a road, a lunch).
    pub(crate) fn any_time(span: i64) -> Self {
        Self { span, begin_first: 0, begin_last: NEVER }
    }

    /// Work of `span` minutes within a gate; `None` when the gate is too short.
    pub(crate) fn gated(span: i64, from: i64, to: i64) -> Option<Self> {
        (from + span <= to).then_some(Self { span, begin_first: from, begin_last: to - span })
    }

    /// This stretch and then the next; `None` when the next gate closes before it can be reached.
    pub(crate) fn then(self, next: Self) -> Option<Self> {
        if self.begin_first + self.span > next.begin_last {
            return None;
        }
        let wait = (next.begin_first - self.span - self.begin_last).max(0);
        Some(Self {
            span: self.span + next.span + wait,
            begin_first: (next.begin_first - self.span).max(self.begin_first) - wait,
            begin_last: (next.begin_last - self.span).min(self.begin_last),
        })
    }
}

use outyard_book::entry::Unread;
use outyard_book::{Entry, Fact, fold, wire};
use proptest::prelude::*;

use super::support::*;

//! What `PostgreSQL` says, in the words of the port.

use outyard_app::ports::StoreError;

/// The book's name in messages.
#[derive(Clone, Debug)]
pub(super) struct Server(String);

impl Server {
    pub(super) fn new(name: String) -> Self {
        Self(name)
    }

    pub(super) fn name(&self) -> String {
        self.0.clone()
    }

    /// An error of the driver. Codes: postgresql.org, appendix "`PostgreSQL` Error Codes".
    pub(super) fn error(&self, error: &sqlx::Error) -> StoreError {
        let book = self.name();
        let said = match error {
            sqlx::Error::Database(said) => said,
            sqlx::Error::Io(_) | sqlx::Error::PoolTimedOut | sqlx::Error::PoolClosed | sqlx::Error::WorkerCrashed => {
                return StoreError::Away { book, why: error.to_string() };
            }
            sqlx::Error::Tls(why) => return StoreError::CannotOpen { book, why: why.to_string() },
            // A server killed in mid-answer leaves half a message behind.
            sqlx::Error::Protocol(why) => return StoreError::Away { book, why: why.clone() },
            _ => return StoreError::Other { book, why: error.to_string() },
        };
        let code = said.code().unwrap_or_default();
        let why = said.message().to_owned();
        match &*code {
            "53100" => StoreError::Full { book },
            "55P03" | "40P01" | "40001" => StoreError::Busy { book },
            "25006" | "42501" => StoreError::ReadOnly { book, why },
            // Shutting down, crashed, starting up, too many connections: it will be back.
            "57P01" | "57P02" | "57P03" | "53300" => StoreError::Away { book, why },
            "XX001" | "XX002" => StoreError::Damaged { book, why },
            "3D000" => StoreError::CannotOpen { book, why },
            code if code.starts_with("28") => StoreError::CannotOpen { book, why },
            code if code.starts_with("08") => StoreError::Away { book, why },
            _ => StoreError::Other { book, why },
        }
    }
}

//! What this server shows for itself: the owner's certificate files, or a certificate of an authority of its own.
//!
//! The authority is made once and kept in the outfit's folder, readable by the owner alone. Whoever trusts it trusts it for
//! this house only: name constraints (RFC 5280, section 4.2.1.10) bind it to private addresses, to names that exist on no
//! public network, and to what it was told when it was made. The certificate it gives the server lives in memory, is given
//! anew at every start and every day, and holds whatever addresses the machine then has.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | | `AUTHORITY_DAYS` | how long the authority holds | d | 3650 | assumed |
//! | | `AUTHORITY_ENDS` | days before its end when another is made | d | 60 | assumed |
//! | | `SERVER_DAYS` | how long the server's certificate holds | d | 90 | assumed; phones take at most 825 from an authority of one's own |
//! | | `LOOK_EVERY` | how often certificates are renewed or read again | h | 12 | assumed |

use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use outyard_base::Trouble;
use outyard_folder::write_whole;
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DnType, ExtendedKeyUsagePurpose, GeneralSubtree, IsCa, Issuer,
    KeyPair, KeyUsagePurpose, NameConstraints, SanType,
};
use sha2::{Digest, Sha256};
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio_rustls::rustls::server::{ClientHello, ResolvesServerCert};
use tokio_rustls::rustls::sign::CertifiedKey;
use tokio_rustls::rustls::{self, ServerConfig};
use x509_parser::extensions::GeneralName;
use x509_parser::prelude::{FromDer, X509Certificate};

const AUTHORITY_DAYS: i64 = 3650;
const AUTHORITY_ENDS: i64 = 60;
const SERVER_DAYS: i64 = 90;
const LOOK_EVERY: Duration = Duration::from_hours(12);
/// Name of the authority's file in the outfit's folder: certificate and key, so that neither stands without the other.
pub(crate) const AUTHORITY: &str = "authority.pem";

/// Names of which no public network knows (RFC 6761, 6762, 8375, and ICANN's `internal`).
const HOME_NAMES: [&str; 5] = ["localhost", "local", "home.arpa", "internal", "lan"];
/// Addresses of no public network (RFC 1122, 1918, 3927, 4193, 4291).
const HOME_ADDRESSES: [(&str, u8); 8] = [
    ("127.0.0.0", 8),
    ("10.0.0.0", 8),
    ("172.16.0.0", 12),
    ("192.168.0.0", 16),
    ("169.254.0.0", 16),
    ("::1", 128),
    ("fc00::", 7),
    ("fe80::", 10),
];

/// Where certificates come from.
#[derive(Clone, Debug)]
pub(crate) enum Source {
    /// An authority of one's own, in this folder, for these names besides the machine's.
    Own {
        /// The outfit's folder.
        folder: PathBuf,
        /// Names besides the machine's own.
        names: Vec<String>,
    },
    /// Files of the owner's, as PEM: the certificate with its chain, and its key.
    Files {
        /// The certificate, and those between it and its root.
        chain: PathBuf,
        /// Its key.
        key: PathBuf,
    },
}

/// What the server shows for itself; it can be changed while it serves.
#[derive(Debug)]
pub(crate) struct Shown {
    source: Source,
    now: RwLock<Arc<CertifiedKey>>,
    authority: Option<Authority>,
}

/// An authority of one's own, as phones are led to trust it.
#[derive(Clone, Debug)]
pub(crate) struct Authority {
    /// Its certificate.
    pub(crate) der: Vec<u8>,
}

impl Authority {
    /// Its SHA-256, as phones write it.
    pub(crate) fn fingerprint(&self) -> String {
        let pairs: Vec<String> = Sha256::digest(&self.der).iter().map(|byte| format!("{byte:02X}")).collect();
        pairs.join(":")
    }
}

impl ResolvesServerCert for Shown {
    fn resolve(&self, _: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(Arc::clone(&self.now.read().unwrap_or_else(PoisonError::into_inner)))
    }
}

impl Shown {
    /// Reads or makes what is shown.
    ///
    /// # Errors
    /// `SRV-027` for files that cannot be used, `SRV-028` for an authority that cannot be used or made.
    pub(crate) fn open(source: Source) -> Result<Arc<Self>, Vec<Trouble>> {
        let (now, authority) = look(&source)?;
        Ok(Arc::new(Self { source, now: RwLock::new(Arc::new(now)), authority }))
    }

    /// The authority phones are led to trust, when it is one's own.
    pub(crate) fn authority(&self) -> Option<&Authority> {
        self.authority.as_ref()
    }

    /// How it talks: TLS 1.2 and 1.3, HTTP/2 and 1.1.
    pub(crate) fn config(self: &Arc<Self>) -> Result<Arc<ServerConfig>, Vec<Trouble>> {
        let versions = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .map_err(|error| vec![bad_files(&error.to_string())])?;
        let mut config = versions.with_no_client_auth().with_cert_resolver(Arc::clone(self) as Arc<_>);
        config.alpn_protocols = vec![b"h2".to_vec(), b"http/1.1".to_vec()];
        Ok(Arc::new(config))
    }

    /// Renews, or reads the files again, from time to time. What fails leaves what is shown.
    pub(crate) async fn keep_new(self: Arc<Self>) {
        loop {
            tokio::time::sleep(LOOK_EVERY).await;
            match look(&self.source) {
                Ok((fresh, _)) => {
                    *self.now.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(fresh);
                    tracing::info!("certificate renewed");
                }
                Err(troubles) => {
                    for trouble in troubles {
                        tracing::warn!(code = trouble.code, "{}", trouble.cause);
                    }
                }
            }
        }
    }
}

fn look(source: &Source) -> Result<(CertifiedKey, Option<Authority>), Vec<Trouble>> {
    match source {
        Source::Files { chain, key } => Ok((of_files(chain, key)?, None)),
        Source::Own { folder, names } => {
            let machine = Machine::look(names);
            let (certificate, authority) = own(folder, &machine)?;
            Ok((certificate, Some(authority)))
        }
    }
}

fn bad_files(why: &str) -> Trouble {
    Trouble::new(
        "SRV-027",
        format!("the certificate cannot be used: {why}"),
        "name the certificate with its chain and its key, both as PEM, with --certificate and --key",
    )
}

fn of_files(chain: &Path, key: &Path) -> Result<CertifiedKey, Vec<Trouble>> {
    let cannot = |path: &Path, why: String| vec![bad_files(&format!("{}: {why}", path.display()))];
    let certificates = CertificateDer::pem_file_iter(chain)
        .and_then(Iterator::collect::<Result<Vec<_>, _>>)
        .map_err(|error| cannot(chain, error.to_string()))?;
    if certificates.is_empty() {
        return Err(cannot(chain, "there is no certificate in it".to_owned()));
    }
    let key_read = PrivateKeyDer::from_pem_file(key).map_err(|error| cannot(key, error.to_string()))?;
    let ends = X509Certificate::from_der(&certificates[0]).ok().map(|(_, read)| read.validity().not_after.timestamp());
    if let Some(ends) = ends.filter(|ends| *ends < Timestamp::now().as_second()) {
        let ended = Timestamp::from_second(ends).map_or_else(|_| String::new(), |ended| ended.to_string());
        return Err(cannot(chain, format!("it ended on {ended}")));
    }
    CertifiedKey::from_der(certificates, key_read, &ring::default_provider())
        .map_err(|error| cannot(key, error.to_string()))
}

/// What this machine is called, and where it is.
#[derive(Clone, Debug)]
pub(crate) struct Machine {
    /// Names.
    pub(crate) names: Vec<String>,
    /// Addresses, those others can reach first.
    pub(crate) addresses: Vec<IpAddr>,
}

impl Machine {
    /// Looks at the machine; `more` names are its own too.
    pub(crate) fn look(more: &[String]) -> Self {
        let host = gethostname::gethostname().to_string_lossy().to_ascii_lowercase();
        let is_name = |name: &str| {
            !name.is_empty() && name.bytes().all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.'))
        };
        let mut names: Vec<String> = more.iter().map(|name| name.to_ascii_lowercase()).collect();
        if is_name(&host) && host != "localhost" {
            if !host.contains('.') {
                names.push(format!("{host}.local"));
            }
            names.push(host);
        }
        names.push("localhost".to_owned());
        names.dedup();
        let mut addresses: Vec<IpAddr> =
            if_addrs::get_if_addrs().unwrap_or_default().iter().map(if_addrs::Interface::ip).collect();
        addresses.extend([IpAddr::from([127, 0, 0, 1]), IpAddr::from(std::net::Ipv6Addr::LOCALHOST)]);
        // A phone is told a number it can type: of the fourth version, and not the machine's word for itself.
        addresses.sort_by_key(|address| (address.is_loopback(), is_link_local(address), address.is_ipv6(), *address));
        addresses.dedup();
        Self { names, addresses }
    }
}

fn is_link_local(address: &IpAddr) -> bool {
    match address {
        IpAddr::V4(four) => four.is_link_local(),
        IpAddr::V6(six) => six.is_unicast_link_local(),
    }
}

fn bad_authority(file: &Path, why: &str) -> Vec<Trouble> {
    vec![Trouble::new(
        "SRV-028",
        format!("{}: the authority of this office cannot be used: {why}", file.display()),
        "move the file away, and another is made; every phone then has to be led to trust it once more",
    )]
}

fn in_days(days: i64) -> time::OffsetDateTime {
    let then = Timestamp::now() + SignedDuration::from_hours(24 * days);
    time::OffsetDateTime::from_unix_timestamp(then.as_second()).unwrap_or(time::OffsetDateTime::UNIX_EPOCH)
}

/// Makes an authority bound to this house.
fn make_authority(machine: &Machine) -> Result<(String, KeyPair), rcgen::Error> {
    let key = KeyPair::generate()?;
    let mut wanted = CertificateParams::new(Vec::new())?;
    wanted.not_before = in_days(-1);
    wanted.not_after = in_days(AUTHORITY_DAYS);
    let made = Timestamp::now().strftime("%Y-%m-%d").to_string();
    wanted.distinguished_name.push(DnType::CommonName, format!("outyard office authority {made}"));
    wanted.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    wanted.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    let names = HOME_NAMES.iter().map(|name| (*name).to_owned()).chain(machine.names.iter().cloned());
    let mut permitted: Vec<GeneralSubtree> = names.map(GeneralSubtree::DnsName).collect();
    let subnet = |address: IpAddr, prefix| GeneralSubtree::IpAddress(CidrSubnet::from_addr_prefix(address, prefix));
    permitted
        .extend(HOME_ADDRESSES.iter().filter_map(|(address, prefix)| Some(subnet(address.parse().ok()?, *prefix))));
    permitted
        .extend(machine.addresses.iter().map(|address| subnet(*address, if address.is_ipv4() { 32 } else { 128 })));
    wanted.name_constraints = Some(NameConstraints { permitted_subtrees: permitted, excluded_subtrees: Vec::new() });
    Ok((wanted.self_signed(&key)?.pem(), key))
}

/// Whether an authority may vouch for a name.
fn vouches_for_name(authority: &X509Certificate<'_>, name: &str) -> bool {
    permitted(authority).any(|tree| match tree {
        GeneralName::DNSName(own) => name == *own || name.strip_suffix(own).is_some_and(|before| before.ends_with('.')),
        _ => false,
    })
}

/// Whether an authority may vouch for an address.
fn vouches_for_address(authority: &X509Certificate<'_>, address: IpAddr) -> bool {
    let octets = match address {
        IpAddr::V4(four) => four.octets().to_vec(),
        IpAddr::V6(six) => six.octets().to_vec(),
    };
    permitted(authority).any(|tree| match tree {
        GeneralName::IPAddress(bytes) if bytes.len() == 2 * octets.len() => {
            let (net, mask) = bytes.split_at(octets.len());
            octets.iter().zip(net).zip(mask).all(|((octet, net), mask)| octet & mask == net & mask)
        }
        _ => false,
    })
}

fn permitted<'a>(authority: &'a X509Certificate<'_>) -> impl Iterator<Item = &'a GeneralName<'a>> {
    let constraints = authority.name_constraints().ok().flatten();
    constraints.and_then(|found| found.value.permitted_subtrees.as_ref()).into_iter().flatten().map(|tree| &tree.base)
}

fn read_authority(file: &Path) -> Result<Option<(Vec<u8>, KeyPair)>, Vec<Trouble>> {
    let text = match std::fs::read_to_string(file) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(bad_authority(file, &error.to_string())),
    };
    let der = CertificateDer::from_pem_slice(text.as_bytes())
        .map_err(|error| bad_authority(file, &error.to_string()))?
        .to_vec();
    let key = PrivateKeyDer::from_pem_slice(text.as_bytes())
        .map_err(|error| bad_authority(file, &error.to_string()))
        .and_then(|key| KeyPair::try_from(&key).map_err(|error| bad_authority(file, &error.to_string())))?;
    let (_, read) = X509Certificate::from_der(&der).map_err(|error| bad_authority(file, &error.to_string()))?;
    let left = read.validity().not_after.timestamp() - Timestamp::now().as_second();
    if left < AUTHORITY_ENDS * 86_400 {
        tracing::warn!("the authority of this office ends; another is made, and every phone has to trust it once more");
        return Ok(None);
    }
    Ok(Some((der, key)))
}

fn own(folder: &Path, machine: &Machine) -> Result<(CertifiedKey, Authority), Vec<Trouble>> {
    let file = folder.join(AUTHORITY);
    let bad = |error: rcgen::Error| bad_authority(&file, &error.to_string());
    let (der, key) = if let Some(found) = read_authority(&file)? {
        found
    } else {
        let (pem, key) = make_authority(machine).map_err(bad)?;
        let both = format!("{pem}{}", key.serialize_pem());
        // Others must not read it for as long as it takes to make it private.
        make_private(&file.with_extension("part")).map_err(|error| bad_authority(&file, &error.to_string()))?;
        write_whole(&file, both.as_bytes())?;
        let der =
            CertificateDer::from_pem_slice(pem.as_bytes()).map_err(|error| bad_authority(&file, &error.to_string()))?;
        (der.to_vec(), key)
    };
    let (_, read) = X509Certificate::from_der(&der).map_err(|error| bad_authority(&file, &error.to_string()))?;
    if let Some(outside) = machine.names.iter().find(|name| !vouches_for_name(&read, name)) {
        return Err(bad_authority(&file, &format!("it may not vouch for {outside}, which it was not made for")));
    }
    let mut wanted = CertificateParams::new(machine.names.clone()).map_err(bad)?;
    for address in &machine.addresses {
        if vouches_for_address(&read, *address) {
            wanted.subject_alt_names.push(SanType::IpAddress(*address));
        } else {
            tracing::warn!(%address, "this address is new and public: the office's authority may not vouch for it");
        }
    }
    wanted.not_before = in_days(-1);
    wanted.not_after = in_days(SERVER_DAYS);
    wanted.distinguished_name.push(DnType::CommonName, "outyard office");
    wanted.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    wanted.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    wanted.use_authority_key_identifier_extension = true;
    let server_key = KeyPair::generate().map_err(bad)?;
    let issuer = Issuer::from_ca_cert_der(&CertificateDer::from(der.as_slice()), key).map_err(bad)?;
    let made = wanted.signed_by(&server_key, &issuer).map_err(bad)?;
    let server_key =
        PrivateKeyDer::try_from(server_key.serialize_der()).map_err(|error| bad_authority(&file, error))?;
    let certificates = vec![made.der().clone(), CertificateDer::from(der.clone())];
    let certified = CertifiedKey::from_der(certificates, server_key, &ring::default_provider())
        .map_err(|error: rustls::Error| bad_authority(&file, &error.to_string()))?;
    Ok((certified, Authority { der }))
}

/// Begins a file so that only its owner may read it.
pub(crate) fn make_private(path: &Path) -> std::io::Result<()> {
    let mut options = std::fs::OpenOptions::new();
    options.create(true).truncate(false).write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path).map(drop)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn machine(names: &[&str], addresses: &[&str]) -> Machine {
        Machine {
            names: names.iter().map(|name| (*name).to_owned()).collect(),
            addresses: addresses.iter().map(|address| address.parse().unwrap()).collect(),
        }
    }

    #[test]
    fn an_authority_is_made_once_and_vouches_for_this_house_only() {
        let folder = tempfile::tempdir().unwrap();
        let first = own(folder.path(), &machine(&["shed", "office.example"], &["10.1.2.3", "203.0.113.7"])).unwrap();
        let second = own(folder.path(), &machine(&["shed"], &["192.168.3.4"])).unwrap();
        assert_eq!(first.1.fingerprint(), second.1.fingerprint());
        assert_ne!(first.0.cert[0], second.0.cert[0], "the server's own certificate is given anew");
        let (_, read) = X509Certificate::from_der(&first.1.der).unwrap();
        for own in ["shed", "office.example", "desk.local", "localhost"] {
            assert!(vouches_for_name(&read, own), "{own}");
        }
        for other in ["example", "bank.example", "notshed", "xlocal"] {
            assert!(!vouches_for_name(&read, other), "{other}");
        }
        for (address, may) in [("172.31.0.1", true), ("203.0.113.7", true), ("203.0.113.8", false), ("fe80::1", true)] {
            assert_eq!(vouches_for_address(&read, address.parse().unwrap()), may, "{address}");
        }
        let refused = own(folder.path(), &machine(&["bank.example"], &[])).unwrap_err();
        assert_eq!(refused[0].code, "SRV-028");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = std::fs::metadata(folder.path().join(AUTHORITY)).unwrap().permissions().mode();
            assert_eq!(mode & 0o077, 0, "others may read the key: {mode:o}");
        }
        std::fs::write(folder.path().join(AUTHORITY), "nothing").unwrap();
        assert_eq!(own(folder.path(), &machine(&["shed"], &[])).unwrap_err()[0].code, "SRV-028");
    }

    #[test]
    fn files_that_do_not_fit_are_refused_with_their_name() {
        let folder = tempfile::tempdir().unwrap();
        let (chain, key) = (folder.path().join("chain.pem"), folder.path().join("key.pem"));
        let one = rcgen::generate_simple_self_signed(vec!["localhost".to_owned()]).unwrap();
        let other = KeyPair::generate().unwrap();
        std::fs::write(&chain, one.cert.pem()).unwrap();
        std::fs::write(&key, one.signing_key.serialize_pem()).unwrap();
        assert!(of_files(&chain, &key).is_ok());
        std::fs::write(&key, other.serialize_pem()).unwrap();
        assert_eq!(of_files(&chain, &key).unwrap_err()[0].code, "SRV-027");
        std::fs::write(&chain, "").unwrap();
        assert!(of_files(&chain, &key).unwrap_err()[0].cause.contains("chain.pem"));
    }
}

"""The certificate for phones at home: bound to its names, its leaf renewed near its end under the same authority."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509

from ribwright.errors import FormatError
from ribwright.services.authority import AUTHORITY_DAYS, LEAF_DAYS, authority_for

HOSTS = ("192.168.1.20", "garage.local")
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


def leaf(path: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate(path.read_bytes())


def test_a_leaf_is_renewed_near_its_end_and_phones_go_on_trusting(tmp_path: Path) -> None:
    first = authority_for(HOSTS, keys=tmp_path, now=NOW)
    assert first.is_new
    assert first.leaf_file.stat().st_mode & 0o077 == 0, "nobody else reads the key"
    one = leaf(first.leaf_file)
    again = authority_for(reversed(HOSTS), keys=tmp_path, now=NOW + timedelta(days=10))  # type: ignore[arg-type]
    assert leaf(again.leaf_file) == one, "still good: left as it is"
    later = authority_for(HOSTS, keys=tmp_path, now=NOW + timedelta(days=LEAF_DAYS - 20))
    assert not later.is_new
    assert later.fingerprint == first.fingerprint
    two = leaf(later.leaf_file)
    assert two.serial_number != one.serial_number
    assert two.not_valid_after_utc > one.not_valid_after_utc
    two.verify_directly_issued_by(x509.load_der_x509_certificate(later.certificate))
    ended = authority_for(HOSTS, keys=tmp_path, now=NOW + timedelta(days=AUTHORITY_DAYS))
    assert ended.is_new
    assert ended.fingerprint != first.fingerprint


def test_an_authority_can_stand_for_its_own_names_only(tmp_path: Path) -> None:
    made = authority_for(HOSTS, keys=tmp_path, now=NOW)
    limits = x509.load_der_x509_certificate(made.certificate).extensions.get_extension_for_class(
        x509.NameConstraints
    )
    assert limits.critical
    assert {str(one.value) for one in limits.value.permitted_subtrees or ()} == {
        "192.168.1.20/32",
        "garage.local",
    }
    hangar = authority_for(("10.0.0.7",), keys=tmp_path, now=NOW)
    assert hangar.folder != made.folder
    with pytest.raises(FormatError):
        authority_for(HOSTS, keys=tmp_path / "p" / "keys", outside=tmp_path / "p", now=NOW)

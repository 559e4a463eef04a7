"""The fingerprints over many rows are the published ones, and both ways of making them agree."""

import hashlib
import json

import pyarrow as pa
import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from consolidator.ledger import check_ledger, merkle

# Test vectors for RFC 6962 section 2.1 (RFC 9162 section 2.1.1 hashes alike), as published in
# transparency-dev/merkle, testonly/constants.go: the leaf inputs, and the root over the first n of them.
LEAF_INPUTS = ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]

CELLS = st.text(max_size=12)


@pytest.mark.parametrize("count", range(9))
def test_roots_of_the_published_vectors_come_out_both_ways(count: int) -> None:
    """Both ways of hashing give the roots published for RFC 6962."""
    leaves = [hashlib.sha256(b"\x00" + bytes.fromhex(text)).digest() for text in LEAF_INPUTS[:count]]

    assert merkle.root(b"".join(leaves)).hex() == ROOTS[count]
    assert check_ledger.root_hash(leaves) == ROOTS[count]


@given(st.lists(st.tuples(CELLS, CELLS, CELLS), min_size=1, max_size=20), st.integers(1, 7))
def test_rows_of_any_text_hash_as_the_rfc_8785_library_writes_them(rows: list[tuple[str, ...]], chunk: int) -> None:
    """Quotes, back-slashes, control characters and every script hash as RFC 8785 writes them, chunk by chunk."""
    names = ["a", "b", "c"]
    table = pa.table({name: [row[at] for row in rows] for at, name in enumerate(names)})
    coded = table.set_column(1, "b", table["b"].dictionary_encode())

    expected = [hashlib.sha256(b"\x00" + rfc8785.dumps(list(row))).digest() for row in rows]

    assert merkle.leaf_hashes(table, chunk_rows=chunk) == b"".join(expected)
    assert merkle.leaf_hashes(coded, chunk_rows=chunk) == b"".join(expected)
    assert [check_ledger.leaf_hash(row) for row in rows] == expected


def test_a_missing_cell_is_refused_instead_of_hashed_as_something() -> None:
    """A cell that is missing is a bug, never a text."""
    with pytest.raises(TypeError, match="column a lacks a cell"):
        merkle.leaf_hashes(pa.table({"a": ["x", None]}), chunk_rows=10)


def test_a_number_is_refused_instead_of_hashed_as_something() -> None:
    """Only text is hashed, so that a library's way of writing numbers never matters."""
    with pytest.raises(TypeError, match="column a is int64"):
        merkle.leaf_hashes(pa.table({"a": [1]}), chunk_rows=10)


@given(
    st.recursive(
        st.text(max_size=5) | st.integers(-(2**53) + 1, 2**53 - 1) | st.none() | st.booleans(),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(st.text("abcdefgh_12", min_size=1, max_size=5), inner, max_size=3)
        ),
    )
)
def test_canonical_bytes_of_the_check_script_are_those_of_the_rfc_8785_library(value: object) -> None:
    """What the check script hashes without any library is what the library writes."""
    assert check_ledger.canonical(value) == rfc8785.dumps(json.loads(json.dumps(value)))

"""The journal's tree: against published roots and proofs, and against the definition itself."""

from __future__ import annotations

from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.errors import GearkeepError, VerificationError
from vault.trust import merkle

# The eight leaves, the roots of the trees of 0 to 8 of them, and the proofs: certificate-transparency,
# merkle_tree_test.cc.
LEAVES = [bytes.fromhex(leaf) for leaf in [
    "", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f",
]]
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
LEAF_1 = "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7"
LEAF_4 = "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"
NODE_2_3 = "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e"
NODE_4_5 = "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a"
NODE_6_7 = "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0"
NODE_4_7 = "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"

INCLUSION = [
    (0, 8, [LEAF_1, NODE_2_3, NODE_4_7]),
    (5, 8, [LEAF_4, NODE_6_7, ROOTS[4]]),
    (2, 3, [ROOTS[2]]),
    (1, 5, [ROOTS[1], NODE_2_3, LEAF_4]),
    (0, 1, []),
]
CONSISTENCY = [
    (1, 8, [LEAF_1, NODE_2_3, NODE_4_7]),
    (6, 8, [NODE_4_5, NODE_6_7, ROOTS[4]]),
    (2, 5, [NODE_2_3, LEAF_4]),
    (1, 1, []),
]


class Journal:
    """Rows as the storage scheme keeps them: a leaf hash and the hashes that the leaf completes."""

    def __init__(self, leaves: list[bytes]) -> None:
        self.rows: list[tuple[bytes, bytes]] = []
        for index, leaf in enumerate(leaves):
            hashed = merkle.leaf_hash(leaf)
            self.rows.append((hashed, merkle.nodes_for_append(index, hashed, self.read)))

    def read(self, level: int, index: int) -> bytes:
        """A complete node, from the one row that keeps it."""
        if level == 0:
            return self.rows[index][0]
        row, offset = merkle.node_location(level, index)
        node = self.rows[row][1][offset : offset + 32]
        assert len(node) == 32
        return node


EIGHT = Journal(LEAVES)
LARGE_LEAVES = [number.to_bytes(2, "big") for number in range(200)]
LARGE = Journal(LARGE_LEAVES)


def mth(leaves: list[bytes]) -> bytes:
    """MTH as RFC 9162 2.1.1 defines it, by recursion over the data."""
    if not leaves:
        return sha256(b"").digest()
    if len(leaves) == 1:
        return sha256(b"\x00" + leaves[0]).digest()
    k = max(1 << power for power in range(9) if 1 << power < len(leaves))
    return sha256(b"\x01" + mth(leaves[:k]) + mth(leaves[k:])).digest()


def path(m: int, leaves: list[bytes]) -> list[bytes]:
    """PATH as RFC 9162 2.1.3.1 defines it."""
    if len(leaves) == 1:
        return []
    k = max(1 << power for power in range(9) if 1 << power < len(leaves))
    if m < k:
        return [*path(m, leaves[:k]), mth(leaves[k:])]
    return [*path(m - k, leaves[k:]), mth(leaves[:k])]


def subproof(m: int, leaves: list[bytes], b: bool) -> list[bytes]:
    """SUBPROOF as RFC 9162 2.1.4.1 defines it."""
    if m == len(leaves):
        return [] if b else [mth(leaves)]
    k = max(1 << power for power in range(9) if 1 << power < len(leaves))
    if m <= k:
        return [*subproof(m, leaves[:k], b), mth(leaves[k:])]
    return [*subproof(m - k, leaves[k:], False), mth(leaves[:k])]


SIZES = st.integers(min_value=1, max_value=200)
INDEX_AND_SIZE = SIZES.flatmap(lambda size: st.tuples(st.integers(min_value=0, max_value=size - 1), st.just(size)))
TWO_SIZES = SIZES.flatmap(lambda size: st.tuples(st.integers(min_value=1, max_value=size), st.just(size)))


@pytest.mark.parametrize(("size", "expected"), list(enumerate(ROOTS)))
def test_published_roots(size: int, expected: str) -> None:
    """The roots of the trees of 0 to 8 published leaves."""
    assert merkle.root(size, EIGHT.read).hex() == expected


@pytest.mark.parametrize(("index", "size", "proof"), INCLUSION)
def test_published_inclusion_proofs(index: int, size: int, proof: list[str]) -> None:
    """The published proofs are made, and hold."""
    made = merkle.inclusion_proof(index, size, EIGHT.read)
    assert [node.hex() for node in made] == proof
    merkle.verify_inclusion(merkle.leaf_hash(LEAVES[index]), index, size, made, bytes.fromhex(ROOTS[size]))


@pytest.mark.parametrize(("size1", "size2", "proof"), CONSISTENCY)
def test_published_consistency_proofs(size1: int, size2: int, proof: list[str]) -> None:
    """The published proofs are made, and hold."""
    made = merkle.consistency_proof(size1, size2, EIGHT.read)
    assert [node.hex() for node in made] == proof
    merkle.verify_consistency(size1, size2, bytes.fromhex(ROOTS[size1]), bytes.fromhex(ROOTS[size2]), made)


def test_the_seven_leaves_of_the_standard() -> None:
    """RFC 9162 2.1.5: the paths of d0, d3, d4, d6 and the proofs from 3, 4 and 6, by the names in its picture."""
    a, b, c, d, _e, f, j = (EIGHT.read(0, index) for index in range(7))
    g, h, i = (EIGHT.read(1, index) for index in range(3))
    k = EIGHT.read(2, 0)
    l_ = merkle.node_hash(i, j)
    assert merkle.inclusion_proof(0, 7, EIGHT.read) == [b, h, l_]
    assert merkle.inclusion_proof(3, 7, EIGHT.read) == [c, g, l_]
    assert merkle.inclusion_proof(4, 7, EIGHT.read) == [f, j, k]
    assert merkle.inclusion_proof(6, 7, EIGHT.read) == [i, k]
    assert merkle.consistency_proof(3, 7, EIGHT.read) == [c, d, g, l_]
    assert merkle.consistency_proof(4, 7, EIGHT.read) == [l_]
    assert merkle.consistency_proof(6, 7, EIGHT.read) == [i, j, k]
    assert a == EIGHT.read(0, 0)


@given(SIZES)
def test_root_is_that_of_the_definition(size: int) -> None:
    """The stored nodes give the root that the recursive definition gives."""
    assert merkle.root(size, LARGE.read) == mth(LARGE_LEAVES[:size])


@given(INDEX_AND_SIZE)
def test_inclusion_proofs_are_those_of_the_definition(case: tuple[int, int]) -> None:
    """Each proof is the definition's, and holds."""
    index, size = case
    proof = merkle.inclusion_proof(index, size, LARGE.read)
    assert proof == path(index, LARGE_LEAVES[:size])
    merkle.verify_inclusion(merkle.leaf_hash(LARGE_LEAVES[index]), index, size, proof, mth(LARGE_LEAVES[:size]))


@given(TWO_SIZES)
def test_consistency_proofs_are_those_of_the_definition(case: tuple[int, int]) -> None:
    """Each proof is the definition's, and holds."""
    size1, size2 = case
    proof = merkle.consistency_proof(size1, size2, LARGE.read)
    assert proof == subproof(size1, LARGE_LEAVES[:size2], True)
    merkle.verify_consistency(size1, size2, mth(LARGE_LEAVES[:size1]), mth(LARGE_LEAVES[:size2]), proof)


def test_an_append_keeps_only_what_it_completes() -> None:
    """Leaves 0 to 7 complete 0, 1, 0, 2, 0, 1, 0 and 3 nodes, 32 bytes each."""
    assert [len(nodes) // 32 for _, nodes in EIGHT.rows] == [0, 1, 0, 2, 0, 1, 0, 3]


@pytest.mark.parametrize(
    ("level", "index", "row", "offset"), [(1, 0, 1, 0), (1, 1, 3, 0), (2, 0, 3, 32), (3, 0, 7, 64), (1, 3, 7, 0)]
)
def test_where_a_node_is_kept(level: int, index: int, row: int, offset: int) -> None:
    """A node lies in the row of the last leaf below it, behind the nodes of lower levels."""
    assert merkle.node_location(level, index) == (row, offset)


ROOT = [bytes.fromhex(value) for value in ROOTS]
LEAF_5 = merkle.leaf_hash(LEAVES[5])
GOOD_PATH = [bytes.fromhex(node) for node in INCLUSION[1][2]]
GOOD_STEPS = [bytes.fromhex(node) for node in CONSISTENCY[1][2]]
ZERO = bytes(32)


@pytest.mark.parametrize(
    ("leaf", "index", "size", "proof", "root"),
    [
        (LEAF_5, 4, 8, GOOD_PATH, ROOT[8]),
        (LEAF_5, 6, 8, GOOD_PATH, ROOT[8]),
        (LEAF_5, 7, 8, GOOD_PATH, ROOT[8]),
        (LEAF_5, 8, 8, GOOD_PATH, ROOT[8]),
        (LEAF_5, -1, 8, GOOD_PATH, ROOT[8]),
        (LEAF_5, 5, 16, GOOD_PATH, ROOT[8]),
        (LEAF_5, 5, 4, GOOD_PATH, ROOT[8]),
        (LEAF_5, 5, 0, GOOD_PATH, ROOT[8]),
        (LEAF_5, 5, 8, [], ROOT[8]),
        (LEAF_5, 5, 8, GOOD_PATH[:-1], ROOT[8]),
        (LEAF_5, 5, 8, GOOD_PATH[1:], ROOT[8]),
        (LEAF_5, 5, 8, [*GOOD_PATH, ZERO], ROOT[8]),
        (LEAF_5, 5, 8, [*GOOD_PATH, ROOT[8]], ROOT[8]),
        (LEAF_5, 5, 8, [ZERO, *GOOD_PATH], ROOT[8]),
        (LEAF_5, 5, 8, GOOD_PATH[::-1], ROOT[8]),
        (LEAF_5, 5, 8, [ZERO, *GOOD_PATH[1:]], ROOT[8]),
        (LEAF_5, 5, 8, [GOOD_PATH[0][:31], *GOOD_PATH[1:]], ROOT[8]),
        (LEAF_5, 5, 8, [b"", *GOOD_PATH], ROOT[8]),
        (LEAF_5, 5, 8, GOOD_PATH, ROOT[7]),
        (LEAF_5, 5, 8, GOOD_PATH, b""),
        (ZERO, 5, 8, GOOD_PATH, ROOT[8]),
        (b"", 5, 8, GOOD_PATH, ROOT[8]),
        (ROOT[8], 0, 1, [ZERO], ROOT[8]),
    ],
)
def test_tampered_inclusion_proofs_fail(leaf: bytes, index: int, size: int, proof: list[bytes], root: bytes) -> None:
    """Another place, size, leaf, root, or any other proof is refused."""
    with pytest.raises(VerificationError) as caught:
        merkle.verify_inclusion(leaf, index, size, proof, root)
    assert caught.value.kind == "bad-proof"


@pytest.mark.parametrize(
    ("size1", "size2", "root1", "root2", "proof"),
    [
        (0, 8, ROOT[0], ROOT[8], []),  # transparency-dev/merkle wants an error for size 0
        (0, 0, ROOT[0], ROOT[0], []),
        (5, 8, ROOT[6], ROOT[8], GOOD_STEPS),
        (7, 8, ROOT[6], ROOT[8], GOOD_STEPS),
        (6, 16, ROOT[6], ROOT[8], GOOD_STEPS),
        (6, 4, ROOT[6], ROOT[8], GOOD_STEPS),
        (8, 6, ROOT[8], ROOT[6], GOOD_STEPS),
        (6, 6, ROOT[6], ROOT[8], []),
        (6, 6, ROOT[6], ROOT[6], GOOD_STEPS),
        (6, 8, ROOT[8], ROOT[6], GOOD_STEPS),
        (6, 8, ROOT[5], ROOT[8], GOOD_STEPS),
        (6, 8, ROOT[6], ROOT[7], GOOD_STEPS),
        (6, 8, ROOT[6], ROOT[6], GOOD_STEPS),
        (6, 8, ROOT[6], ROOT[8], []),
        (6, 8, ROOT[6], ROOT[8], GOOD_STEPS[:-1]),
        (6, 8, ROOT[6], ROOT[8], GOOD_STEPS[1:]),
        (6, 8, ROOT[6], ROOT[8], [*GOOD_STEPS, ZERO]),
        (6, 8, ROOT[6], ROOT[8], [ROOT[6], *GOOD_STEPS]),
        (6, 8, ROOT[6], ROOT[8], [*GOOD_STEPS, ROOT[8]]),
        (6, 8, ROOT[6], ROOT[8], [ZERO, *GOOD_STEPS[1:]]),
        (6, 8, ROOT[6], ROOT[8], GOOD_STEPS[::-1]),
        (6, 8, ROOT[6], ROOT[8], [GOOD_STEPS[0] + b"\x00", *GOOD_STEPS[1:]]),
        (6, 8, b"", ROOT[8], GOOD_STEPS),
        (4, 8, ROOT[4], ROOT[8], []),
    ],
)
def test_tampered_consistency_proofs_fail(
    size1: int, size2: int, root1: bytes, root2: bytes, proof: list[bytes]
) -> None:
    """Other sizes, other roots, or any other proof is refused."""
    with pytest.raises(VerificationError) as caught:
        merkle.verify_consistency(size1, size2, root1, root2, proof)
    assert caught.value.kind == "bad-proof"


@given(INDEX_AND_SIZE, st.data())
def test_one_flipped_bit_in_an_inclusion_proof_fails(case: tuple[int, int], data: st.DataObject) -> None:
    """Whichever bit of leaf, proof or root is flipped, the proof is refused."""
    index, size = case
    leaf = merkle.leaf_hash(LARGE_LEAVES[index])
    hashes = [leaf, *merkle.inclusion_proof(index, size, LARGE.read), mth(LARGE_LEAVES[:size])]
    at = data.draw(st.integers(min_value=0, max_value=len(hashes) - 1))
    flipped = int.from_bytes(hashes[at], "big") ^ 1 << data.draw(st.integers(min_value=0, max_value=255))
    hashes[at] = flipped.to_bytes(32, "big")
    with pytest.raises(VerificationError):
        merkle.verify_inclusion(hashes[0], index, size, hashes[1:-1], hashes[-1])


@pytest.mark.parametrize(("index", "size"), [(-1, 8), (8, 8), (0, 0)])
def test_no_proof_for_what_is_not_there(index: int, size: int) -> None:
    """A place outside the journal has no proof."""
    with pytest.raises(GearkeepError) as caught:
        merkle.inclusion_proof(index, size, EIGHT.read)
    assert caught.value.kind == "bad-proof"


@pytest.mark.parametrize(("size1", "size2"), [(0, 8), (-1, 8), (8, 7)])
def test_no_proof_from_nothing_or_backwards(size1: int, size2: int) -> None:
    """A consistency proof leads from a size above zero to the same or a larger one."""
    with pytest.raises(GearkeepError) as caught:
        merkle.consistency_proof(size1, size2, EIGHT.read)
    assert caught.value.kind == "bad-proof"

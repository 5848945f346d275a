"""The journal's tree (RFC 9162 section 2.1) over SHA-256, as pure functions.

Storage: the row of leaf n keeps the hashes that this leaf completes, levels 1 upwards, 32 bytes each. The node at
level l with index i covers the leaves i·2^l to (i+1)·2^l − 1 and so lies in row ((i+1)·2^l) − 1; an append is one
new row and changes none. `read_node(level, index)` gives a complete node; level 0 is the leaf hash itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from hashlib import sha256
from typing import TypeAlias

from vault.errors import GearkeepError, VerificationError

HASH_BYTES = 32
EMPTY_ROOT = sha256(b"").digest()

ReadNode: TypeAlias = Callable[[int, int], bytes]


def leaf_hash(data: bytes) -> bytes:
    """SHA-256(0x00 ‖ data), RFC 9162 2.1.1."""
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256(0x01 ‖ left ‖ right), RFC 9162 2.1.1."""
    return sha256(b"\x01" + left + right).digest()


def node_location(level: int, index: int) -> tuple[int, int]:
    """The row that keeps a node, and where in that row's bytes it begins. Level 1 or above."""
    if level < 1 or index < 0:
        raise ValueError(f"no node is stored for level {level}, index {index}")
    return ((index + 1) << level) - 1, (level - 1) * HASH_BYTES


def nodes_for_append(index: int, leaf: bytes, read_node: ReadNode) -> bytes:
    """What the row of leaf `index` keeps: the hashes that it completes, level 1 first; often none.

    leaf: the leaf's hash, 32 bytes, not its data.
    """
    if len(leaf) != HASH_BYTES:
        raise ValueError(f"a leaf hash has {HASH_BYTES} bytes, not {len(leaf)}")
    kept = bytearray()
    level = 0
    while index & 1:
        leaf = node_hash(read_node(level, index - 1), leaf)
        kept += leaf
        index >>= 1
        level += 1
    return bytes(kept)


def _split(size: int) -> int:
    """k, the largest power of two smaller than `size` (2.1.1)."""
    return 1 << (size - 1).bit_length() - 1


def _range_root(start: int, size: int, read_node: ReadNode) -> bytes:
    # MTH of the leaves start to start + size − 1. Every range that the recursions ask for begins at a multiple of
    # the power of two that its size fits under, so a whole power of two is one stored node.
    if size & (size - 1) == 0:
        level = size.bit_length() - 1
        return read_node(level, start >> level)
    k = _split(size)
    return node_hash(_range_root(start, k, read_node), _range_root(start + k, size - k, read_node))


def root(size: int, read_node: ReadNode) -> bytes:
    """The root of the first `size` leaves, MTH(D_n) of 2.1.1."""
    return EMPTY_ROOT if size == 0 else _range_root(0, size, read_node)


def inclusion_proof(index: int, size: int, read_node: ReadNode) -> list[bytes]:
    """PATH(index, D_size) of 2.1.3.1. Raises GearkeepError (bad-proof) unless index < size."""
    if not 0 <= index < size:
        raise GearkeepError(f"The journal of {size} statements has none at place {index}.", kind="bad-proof")
    proof: list[bytes] = []
    start = 0
    while size > 1:
        k = _split(size)
        if index < k:
            proof.append(_range_root(start + k, size - k, read_node))
            size = k
        else:
            proof.append(_range_root(start, k, read_node))
            start, index, size = start + k, index - k, size - k
    return proof[::-1]


def consistency_proof(size1: int, size2: int, read_node: ReadNode) -> list[bytes]:
    """PROOF(size1, D_size2) of 2.1.4.1. Raises GearkeepError (bad-proof) unless 0 < size1 <= size2."""
    if not 0 < size1 <= size2:
        raise GearkeepError(f"There is no proof from size {size1} to size {size2}.", kind="bad-proof")
    proof: list[bytes] = []
    start, whole = 0, True
    while size1 < size2:
        k = _split(size2)
        if size1 <= k:
            proof.append(_range_root(start + k, size2 - k, read_node))
            size2 = k
        else:
            proof.append(_range_root(start, k, read_node))
            start, size1, size2, whole = start + k, size1 - k, size2 - k, False
    if not whole:
        proof.append(_range_root(start, size1, read_node))
    return proof[::-1]


def _fail(what: str) -> VerificationError:
    return VerificationError(f"The proof does not hold: {what}.", kind="bad-proof",
                             hint="The journal shown is not the one that the checkpoint was signed for.")


def _check_hashes(hashes: Sequence[bytes]) -> None:
    if any(len(value) != HASH_BYTES for value in hashes):
        raise _fail(f"a hash has not {HASH_BYTES} bytes")


def verify_inclusion(leaf: bytes, index: int, size: int, proof: Sequence[bytes], root_hash: bytes) -> None:
    """RFC 9162 2.1.3.2, same step numbers. leaf: the leaf's hash. Raises VerificationError (bad-proof)."""
    _check_hashes([leaf, root_hash, *proof])
    if not 0 <= index < size:  # 1
        raise _fail(f"place {index} lies outside a journal of {size}")
    fn, sn = index, size - 1  # 2
    r = leaf  # 3
    for p in proof:  # 4
        if sn == 0:  # 4a
            raise _fail("it is too long")
        if fn & 1 or fn == sn:  # 4b
            r = node_hash(p, r)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            r = node_hash(r, p)
        fn, sn = fn >> 1, sn >> 1  # 4c
    if sn != 0:  # 5
        raise _fail("it is too short")
    if r != root_hash:
        raise _fail("it leads to another root")


def verify_consistency(size1: int, size2: int, root1: bytes, root2: bytes, proof: Sequence[bytes]) -> None:
    """RFC 9162 2.1.4.2, same step numbers; of equal sizes the roots must be equal and the proof empty.

    Size 0 is refused: an empty journal is consistent with everything and so proves nothing.
    Raises VerificationError (bad-proof).
    """
    _check_hashes([root1, root2, *proof])
    if not 0 < size1 <= size2:
        raise _fail(f"nothing leads from size {size1} to size {size2}")
    if size1 == size2:
        if proof or root1 != root2:
            raise _fail("two journals of one size differ")
        return
    if not proof:  # 1
        raise _fail("it is empty")
    path = [root1, *proof] if size1 & (size1 - 1) == 0 else list(proof)  # 2
    fn, sn = size1 - 1, size2 - 1  # 3
    while fn & 1:  # 4
        fn, sn = fn >> 1, sn >> 1
    fr = sr = path[0]  # 5
    for c in path[1:]:  # 6
        if sn == 0:  # 6a
            raise _fail("it is too long")
        if fn & 1 or fn == sn:  # 6b
            fr, sr = node_hash(c, fr), node_hash(c, sr)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            sr = node_hash(sr, c)
        fn, sn = fn >> 1, sn >> 1  # 6c
    if fr != root1 or sr != root2 or sn != 0:  # 7
        raise _fail("it leads to other roots")

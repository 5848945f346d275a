"""A stock command told a label instead of a name: pictures, links, typed models, and what is refused."""

from __future__ import annotations

import pytest
from PIL import Image
from small_vault import HOST, NOW_S, SmallVault

from vault.actions.labelling import Wanted, print_labels
from vault.actions.place_labels import Content, bin_label, line_label, print_place, spare_label
from vault.actions.stock import one_movement
from vault.actions.stock_scan import StockBin, StockItem, find_item, find_luminaire, read_said, resolve_bin, resolve_item
from vault.domain.stock import Act
from vault.domain.terms import Item, ItemTerms, SupplyTerms
from vault.errors import GearkeepError, UsageProblem
from vault.trust.statements import Kind

# Six GEN-50-1050 lie in bin A1, one TW-2X20 with serial MB31014 in C2 (demo/stock.csv).
A1 = StockItem(model="GEN-50-1050", store="MAIN", bin="A1")
LINK = "HTTPS://LX.EXAMPLE.EU"


@pytest.mark.parametrize(("said", "meant"), [
    ("GEN-50-1050", StockItem(model="GEN-50-1050")),
    (" gen-50-1050\n", StockItem(model="GEN-50-1050")),
    (f"{LINK}/B/MAIN/A1", A1),
    ("https://lx.example.eu/b/main/a1\n", A1),
    (f"{LINK}/D/GEN-50-1050", StockItem(model="GEN-50-1050")),
    (f"{LINK}/D/GEN-50-1050/G5-0412", StockItem(model="GEN-50-1050", serial="G5-0412")),
    (f"{LINK}/D/TW-2X20/MB31014", StockItem(model="TW-2X20", store="MAIN", bin="C2", serial="MB31014")),
])
def test_what_was_said_is_found(small: SmallVault, said: str, meant: StockItem) -> None:
    """Typed in any case, or as a hand scanner types a link; a piece that lies on a shelf brings its place."""
    with small.open().reading() as session:
        assert resolve_item(session, said) == meant


@pytest.mark.parametrize(("content", "meant"), [
    (bin_label("MAIN", "A1"), A1), (spare_label("GEN-50-1050", None), StockItem(model="GEN-50-1050")),
    (spare_label("TW-2X20", "MB31014"), StockItem(model="TW-2X20", store="MAIN", bin="C2", serial="MB31014"))],
    ids=["bin", "spare", "piece"])
def test_a_printed_label_is_found_from_its_picture(small: SmallVault, content: Content, meant: StockItem) -> None:
    """What gearkeep mark draws, a stock command reads."""
    picture = small.folder / "label.png"
    print_place(small.open(), content, picture)
    assert find_item(small.desk(), str(picture)) == meant


def test_words_beside_a_label_are_kept(small: SmallVault) -> None:
    """Where somebody says where a piece should go, its label does not say otherwise."""
    with small.open().reading() as session:
        item = resolve_item(session, f"{LINK}/D/TW-2X20/MB31014", store="VAN-1", bin_name="X1")
    assert item == StockItem(model="TW-2X20", store="VAN-1", bin="X1", serial="MB31014")


def test_a_bin_may_be_scanned_beside_a_typed_model(small: SmallVault) -> None:
    """For --bin a label does as well as a name."""
    assert find_item(small.desk(), "GEN-50-1050", bin_name=f"{LINK}/B/MAIN/A1") == A1
    assert find_item(small.desk(), "GEN-50-1050", bin_name="A1", store="MAIN") == A1


def test_an_emptied_bin_still_means_its_model(small: SmallVault) -> None:
    """The label on it says where the next delivery goes."""
    one_movement(small.desk("S01"), act=Act.ISSUE, store="MAIN", model="GEN-50-1050", quantity=6, bin_name="A1")
    with small.open().reading() as session:
        assert resolve_item(session, f"{LINK}/B/MAIN/A1") == A1


def test_names_are_found_as_the_store_writes_them(small: SmallVault) -> None:
    """A link is in capitals; store, bin and serial number come back with their small letters."""
    one_movement(small.desk("S01"), act=Act.RECEIPT, store="Van-1", model="TW-2X20", quantity=1, bin_name="top", serial="mb9")
    top = StockItem(model="TW-2X20", store="Van-1", bin="top", serial="mb9")
    with small.open().reading() as session:
        assert resolve_bin(session, f"{LINK}/B/VAN-1/TOP") == StockBin(store="Van-1", bin="top")
        assert resolve_item(session, f"{LINK}/D/TW-2X20/MB9") == top


def test_a_bin_of_several_models_asks_which(small: SmallVault) -> None:
    """And names them."""
    one_movement(small.desk("S01"), act=Act.RECEIPT, store="MAIN", model="GEN-25-800", quantity=1, bin_name="A1")
    with small.open().reading() as session, pytest.raises(GearkeepError, match="GEN-25-800, GEN-50-1050") as caught:
        resolve_item(session, f"{LINK}/B/MAIN/A1")
    assert caught.value.kind == "several-models"


@pytest.mark.parametrize(("said", "kind", "words"), [
    ("GEN-50-1500", "not-found", "Did you mean GEN-50-1050?"),
    ("quite another thing", "not-found", "does not know the model quite another thing"),
    ("HTTPS://OTHER.EXAMPLE/B/MAIN/A1", "other-vault", "OTHER.EXAMPLE"),
    (f"{LINK}/B/MAIN/Z9", "empty-bin", "Z9"),
    (f"{LINK}/D/NO-SUCH", "not-found", "NO-SUCH"),
    (f"{LINK}/N/D1", "place-code", "a control line"),
])
def test_what_is_not_meant_so_is_refused(small: SmallVault, said: str, kind: str, words: str) -> None:
    """Each says what was found and what to do next; a near miss names its neighbour."""
    with small.open().reading() as session, pytest.raises(GearkeepError) as caught:
        resolve_item(session, said)
    assert caught.value.kind == kind and words in caught.value.what and caught.value.hint


@pytest.mark.parametrize(("said", "given"), [
    (f"{LINK}/B/MAIN/A1", {"store": "VAN-1"}), (f"{LINK}/B/MAIN/A1", {"bin_name": "A2"}),
    (f"{LINK}/D/TW-2X20/MB31014", {"serial": "MB1"})], ids=["store", "bin", "serial"])
def test_a_label_that_differs_from_the_words_is_refused(small: SmallVault, said: str, given: dict[str, str]) -> None:
    """Which of the two is right, the program cannot know."""
    with small.open().reading() as session, pytest.raises(GearkeepError) as caught:
        resolve_item(session, said, **given)
    assert caught.value.kind == "label-differs"


@pytest.mark.parametrize(("said", "kind"), [
    (f"{LINK}/D/GEN-50-1050", "wrong-label"), (f"{LINK}/N/D1", "place-code"), ("HTTPS://OTHER.EXAMPLE/B/MAIN/A1", "other-vault")])
def test_what_is_no_bin_is_refused(small: SmallVault, said: str, kind: str) -> None:
    """A bin's name may be anything that is no label."""
    with small.open().reading() as session, pytest.raises(GearkeepError) as caught:
        resolve_bin(session, said)
    assert caught.value.kind == kind and caught.value.hint


def test_a_luminaires_label_is_told_apart(small: SmallVault) -> None:
    """As a picture and as text; the luminaire has an option of its own, which reads both, and leaves a typed tag as it is."""
    picture = small.folder / "label.png"
    print_labels(small.desk("I01"), Wanted(texts=[small.tags["CH-007"]]), out=picture)
    with pytest.raises(GearkeepError) as caught:
        read_said(str(picture))
    assert caught.value.kind == "luminaire-label" and "--for" in caught.value.hint
    tag = small.tags["CH-007"]
    said = (str(picture), f"https://{HOST}/L/{tag}", f"HTTPS://OTHER.EXAMPLE/L/{tag}", "x")
    assert [find_luminaire(small.desk(), one) for one in said] == [tag, tag, f"{tag}@OTHER.EXAMPLE", "x"]
    with small.open().reading() as session, pytest.raises(GearkeepError) as caught:
        resolve_item(session, f"https://{HOST}/L/{small.tags['CH-007']}")
    assert caught.value.kind == "luminaire-label"


@pytest.mark.parametrize(("content", "kind"), [(line_label("D1"), "place-code"), (None, "no-code")], ids=["line", "blank"])
def test_a_picture_without_such_a_label_is_refused(small: SmallVault, content: Content | None, kind: str) -> None:
    """A line's label, and a picture of nothing."""
    picture = small.folder / "picture.png"
    Image.new("L", (400, 300), 255).save(picture)
    if content is not None:
        print_place(small.open(), content, picture)
    with pytest.raises(GearkeepError) as caught:
        read_said(str(picture))
    assert caught.value.kind == kind


def test_two_labels_in_one_picture_ask_which(small: SmallVault) -> None:
    """Beside each other on a shelf."""
    pictures = []
    for name, content in (("a", bin_label("MAIN", "A1")), ("b", bin_label("MAIN", "A2"))):
        print_place(small.open(), content, small.folder / f"{name}.png")
        pictures.append(Image.open(small.folder / f"{name}.png").convert("L"))
    both = Image.new("L", (pictures[0].width * 2 + 60, pictures[0].height + 40), 255)
    both.paste(pictures[0], (20, 20))
    both.paste(pictures[1], (pictures[0].width + 40, 20))
    both.save(small.folder / "shelf.png")
    with pytest.raises(GearkeepError, match="2 labels") as caught:
        read_said(str(small.folder / "shelf.png"))
    assert caught.value.kind == "several-labels"


def test_a_missing_picture_is_said(small: SmallVault) -> None:
    """A name that ends like a picture is one."""
    with pytest.raises(GearkeepError, match="no-such"):
        read_said(str(small.folder / "no-such.png"))


def test_two_models_that_differ_in_capitals_alone_ask_which(small: SmallVault) -> None:
    """Never the first of the two."""
    lines = tuple(ItemTerms(model=model, item=Item.BATTERY) for model in ("BAT-1", "bat-1"))
    small.sign("S01", Kind.SUPPLY_TERMS, SupplyTerms(time_s=NOW_S, main_size=small.sizes()[0], lines=lines))
    with small.open().reading() as session, pytest.raises(UsageProblem) as caught:
        resolve_item(session, "Bat-1")
    assert caught.value.kind == "ambiguous"
    with small.open().reading() as session:
        assert resolve_item(session, "bat-1").model == "bat-1"

"""Does each box add up? The sums, by example and by law."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from intake.model import Listed
from intake.services.boxes import BoxBalance, balance
from intake.services.home import Home
from intake.store import scans
from tests.made import Written, received


def balances(home: Home) -> dict[str, BoxBalance]:
    with home.database.read() as connection:
        return {b.box: b for b in balance(connection)}


def list_pieces(home: Home, *lines: Listed) -> None:
    with home.database.write() as connection:
        scans.replace_list(connection, "C", lines)


def test_a_box_adds_up(home: Home) -> None:
    Written(home).consignment(
        received("B01/0001.tif"),
        received("B01/0001 v.tif", piece="0001", side="verso"),
        received("B01/0002.tif"),
        received("B01/0009.tif"),
        received("B02/0001.tif"),
        has_list=True,
    )
    list_pieces(
        home,
        Listed("B01", "0001"),
        Listed("B01", "0002"),
        Listed("B01", "0002"),
        Listed("B01", "0003"),
        Listed("B01", "0004", held=True, why="framed"),
        Listed("B01", "0001", held=True, why="hazard"),
        Listed("B03", "0001"),
    )
    found = balances(home)
    assert found["B01"] == BoxBalance(
        "C", "B01", listed=4, received=3, missing=1, extra=1, doubled=2, not_scanned=1, held=2,
        missing_pieces=("0003",), extra_pieces=("0009",),
    )  # fmt: skip
    assert (found["B02"].listed, found["B02"].received, found["B02"].extra, found["B02"].missing) == (0, 1, 1, 0)
    assert (found["B03"].listed, found["B03"].received, found["B03"].missing_pieces) == (1, 0, ("0001",))


def test_without_a_list_nothing_is_said_to_be_missing(home: Home) -> None:
    Written(home).consignment(received("B01/0001.tif"))
    assert balances(home)["B01"] == BoxBalance("C", "B01", None, 1, None, None, None, None, 0)


def test_a_list_once_given_stays_given_and_an_empty_one_is_one(home: Home) -> None:
    written = Written(home)
    written.consignment(received("B01/0001.tif"), has_list=True)
    written.consignment(has_list=False)
    box = balances(home)["B01"]
    assert (box.listed, box.missing, box.extra) == (0, 0, 1)


def test_references_are_never_counted(home: Home) -> None:
    Written(home).consignment(
        received("B01/0001.tif"), received("reference/0002.tif", is_reference=True), has_list=True
    )
    assert set(balances(home)) == {"B01"}


def test_one_consignment_or_all(home: Home) -> None:
    written = Written(home)
    written.consignment(received("B01/0001.tif"))
    written.consignment(received("B01/0001.tif", consignment="D"), received("B01/0002.tif", consignment="D"), code="D")
    with home.database.read() as connection:
        assert [(b.consignment, b.received) for b in balance(connection)] == [("C", 1), ("D", 2)]
        assert [(b.consignment, b.received) for b in balance(connection, "D")] == [("D", 2)]
        assert balance(connection, "E") == []


PLACES = st.tuples(st.sampled_from(["B1", "B2"]), st.sampled_from(["0001", "0002", "0003", "0004", "0005"]))


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    came=st.lists(PLACES, max_size=10),
    lines=st.lists(st.builds(lambda p, held: Listed(*p, held=held), PLACES, st.booleans()), max_size=12),
)
def test_listed_is_received_and_listed_plus_missing_plus_not_scanned(
    home: Home, came: list[tuple[str, str]], lines: list[Listed]
) -> None:
    from sqlalchemy import delete

    from intake.store.schema import scan

    with home.database.write() as connection:
        connection.execute(delete(scan))
    Written(home).consignment(
        *[received(f"{box}/{piece}-{n}.tif", piece=piece) for n, (box, piece) in enumerate(came)], has_list=True
    )
    list_pieces(home, *lines)
    found = balances(home)
    assert set(found) == {b for b, _ in came} | {x.box for x in lines}
    for name, box in found.items():
        here = {p for b, p in came if b == name}
        listed = {x.piece for x in lines if x.box == name}
        assert box.received == len(here)
        assert box.listed == len(here & listed) + len(box.missing_pieces) + (box.not_scanned or 0)
        assert (box.missing, box.extra) == (len(box.missing_pieces), len(box.extra_pieces))
        assert set(box.extra_pieces) == here - listed
        files_too_many = len([b for b, _ in came if b == name]) - len(here)
        assert box.doubled == len([x for x in lines if x.box == name]) - len(listed) + files_too_many
        assert box.held == len({x.piece for x in lines if x.box == name and x.held})
        assert not set(box.missing_pieces) & {x.piece for x in lines if x.box == name and x.held}
        assert box.received == len(here & listed) + (box.extra or 0)


def test_a_side_scanned_twice_is_doubled_but_details_and_pictures_that_show_one_side_between_them_are_not(
    home: Home,
) -> None:
    Written(home).consignment(
        received("B1/0001.tif", piece="0001"),
        received("B1/0001 (2).tif", piece="0001"),
        received("B1/0001v.tif", piece="0001", side="verso"),
        received("B1/0002_p01.tif", piece="0002", sequence="p01"),
        received("B1/0002_p02.tif", piece="0002", sequence="p02"),
        received("B1/0003_detail.tif", piece="0003", side="detail"),
        received("B1/0003_detail (2).tif", piece="0003", side="detail"),
        has_list=True,
    )
    list_pieces(home, *[Listed("B1", p) for p in ("0001", "0002", "0003")])
    assert balances(home)["B1"].doubled == 1

"""The page of a piece: its scans, where it is and was, what is drawn on it; and whose pieces are shown at all."""

import html

import pytest

from intake.config.load import Config
from intake.model import Measured, PartKey, Rendered
from intake.services import views
from intake.services.relate import regroup
from intake.store import moves, relations, scans
from tests.made import AT, FRAME, STAMPS, Written, classified, in_ledger, received
from tests.web.hand import TORN, Client, Made
from tests.web.test_rulings import form


def address(key: PartKey) -> str:
    return f"/pieces/{key.digest}-{key.part}"


def test_a_piece_shows_its_scans_its_folds_and_where_it_came_from(own: Made, config: Config) -> None:
    back = received("B04/0022 v.jpg", piece="0022", side="verso")
    with own.home.database.write() as connection:
        scans.add_scans(connection, [(back, 1)], AT)
    Written(own.home).looked(back, [Rendered(FRAME, 500, 750, 2.0), classified("reverse")])
    client = Client(own.home, config)
    text = html.unescape(client.get(address(own.sheet)).text)
    assert "2 scans of it" in text and "B04/0022.jpg" in text and "2 Nov 2026, 20:00 UTC" in text
    assert f"/pieces/{back.digest}-1" in text and 'data-drawn="fold 0.00000 0.5' in text
    assert "box B04" in text and "VELLA & R00K LTD, OSTMERE" in text
    assert client.get(address(PartKey("f" * 64, 1))).status_code == 404
    assert client.get("/pieces/../x").status_code == 404


def test_moves_are_written_down_and_a_stale_one_is_refused(own: Made, config: Config) -> None:
    client = Client(own.home, config)
    client.post("/who", {"who": "Ida Marl"})
    name = f"{own.art.digest}-1"
    sent = client.post("/moves", {"of_piece": name, "seen": "box B01", "to": " shelf 4,\tleft "})
    assert sent.headers["location"] == address(own.art)
    text = client.get(address(own.art)).text
    assert "<b><bdi>shelf 4, left</bdi></b>" in text and "to <bdi>shelf 4, left</bdi>, by <bdi>Ida Marl</bdi>" in text
    stale = client.post("/moves", {"of_piece": name, "seen": "box B01", "to": "the photographer"})
    assert stale.status_code == 409 and "it was moved to shelf 4, left by Ida Marl" in html.unescape(stale.text)
    for to in ("", "x" * 201, "a\u202eb", "shelf 4, left"):
        assert client.post("/moves", {"of_piece": name, "seen": "shelf 4, left", "to": to}).status_code == 409
    with own.home.database.read() as connection:
        assert [m.to_place for m in moves.moves_of(connection, "C", "B01", "0003")] == ["shelf 4, left"]


def test_a_person_states_what_a_piece_is_of_another_and_takes_it_back(own: Made, config: Config) -> None:
    """The newest statement of two pieces holds; an overlay's marks then date the overlay alone."""
    client = Client(own.home, config)
    client.post("/who", {"who": "Ida Marl"})
    form = {"of_piece": f"{own.art.digest}-1", "relation": "overlay_of", "other_box": " B04", "other_piece": "0022"}
    assert client.post("/stated", form).headers["location"] == address(own.art)
    assert "is overlay of <bdi>B04 / 0022</bdi>" in client.get(address(own.art)).text
    assert "is overlay of <bdi>B04 / 0022</bdi>" in client.get(address(own.sheet)).text
    with own.home.database.read() as connection:
        assert relations.overlays(connection) == {("C", "B01", "0003")}
    client.post("/stated", form | {"relation": "unrelated"})
    assert "overlay of" not in client.get(address(own.art)).text.split("<details")[0]
    with own.home.database.read() as connection:
        assert relations.overlays(connection) == set() and relations.standing(connection) == []
        assert [(s.relation, s.who) for s in relations.all_relations(connection)] == [
            ("overlay_of", "Ida Marl"), ("unrelated", "Ida Marl"),
        ]  # fmt: skip
    for wrong in ({"other_piece": "9999"}, {"relation": "copy_of"}, {"other_box": "B01", "other_piece": "0003"}):
        assert client.post("/stated", form | wrong).status_code == 409


def test_a_back_without_a_name_is_offered_its_front_and_joined_by_a_person(own: Made, config: Config) -> None:
    front, back = (received(f"B07/IMG_{n}.jpg", piece=f"IMG_{n}") for n in (4, 5))
    size = Measured(686.0, 1016.0, "resolution tag", "", "no format known", width_off_mm=1.0, height_off_mm=1.0)
    with own.home.database.write() as connection:
        scans.add_scans(connection, [(front, 1), (back, 1)], AT)
    for scan, kind in ((front, "finished_sheet"), (back, "reverse")):
        Written(own.home).looked(scan, [Rendered(FRAME, 500, 750, 2.0), classified(kind), size])
    client, of_back = Client(own.home, config), f"/pieces/{back.digest}-1"
    assert "It may be the back of" in client.get(of_back).text and "It is its back" not in client.get(of_back).text
    client.post("/who", {"who": "Ida Marl"})
    text = html.unescape(client.get(of_back).text)
    assert "B07 / IMG_4" in text and "scanned right before, both are 686 × 1016 mm" in text and "It is its back" in text
    stated = {"of_piece": f"{back.digest}-1", "relation": "side_of", "other_box": "B07", "other_piece": "IMG_4"}
    assert client.post("/stated", stated).headers["location"] == of_back
    text = html.unescape(client.get(of_back).text)
    assert "It may be the back of" not in text and "is side of <bdi>B07 / IMG_4</bdi>, as a person stated" in text


def test_a_move_from_another_page_is_refused(own: Made, config: Config) -> None:
    client = Client(own.home, config)
    form = {"of_piece": f"{own.art.digest}-1", "seen": "box B01", "to": "away", "who": "Ore Vann"}
    assert client.post("/moves", form, origin="http://elsewhere.example").status_code == 403


@pytest.fixture
def two_owners(own: Made, config: Config) -> Client:
    """The finished sheet of the first design is another owner's, who has permitted nothing; the desk is laid for C."""
    with own.home.database.write() as connection:
        scans.put_consignment(connection, "D", "/elsewhere", AT, False)
        connection.exec_driver_sql("UPDATE scan SET consignment = 'D' WHERE digest = ?", (own.sheet.digest,))
    client = Client(own.home, config)
    client.post("/who", {"who": "Ida Marl"})
    return client


def lay(client: Client, code: str) -> None:
    assert client.post("/laid", {"code": code}).status_code == 303


def test_a_family_of_two_owners_shows_one_and_says_that_there_is_more(two_owners: Client, own: Made) -> None:
    code = views.family_holding(own.home, [own.art])
    text = two_owners.get(f"/families/{code}").text
    assert "A piece of consignment <bdi>D</bdi>" in text and "Who works on that consignment may see it" in text
    assert "B04 / 0022" not in text and "R00K" not in text
    assert f"/picture/{own.sheet.digest}" not in text and f"/iiif/{own.sheet.digest}" not in text
    asked = two_owners.get(f"/families/{code}?a={own.art.digest}-1&b={own.sheet.digest}-1").text
    assert f"/iiif/{own.sheet.digest}" not in asked
    lay(two_owners, "D")
    text = two_owners.get(f"/families/{code}").text
    assert f"/picture/{own.sheet.digest}" in text and "B01 / 0003" not in text
    assert f"/picture/{own.art.digest}" not in text


def test_pieces_and_find_hold_back_what_is_not_permitted(two_owners: Client, own: Made) -> None:
    assert own.sheet.digest not in two_owners.get("/pieces").text
    assert "1 picture of other consignments are not shown" in two_owners.get("/pieces").text
    assert two_owners.get(address(own.sheet)).status_code == 403
    found = two_owners.get("/find?words=R00K").text
    assert own.sheet.digest not in found and "piece of consignment <b><bdi>D</bdi></b> matches too" in found
    moved = two_owners.post("/moves", {"of_piece": f"{own.sheet.digest}-1", "seen": "box B04", "to": "here"})
    assert moved.status_code == 403
    lay(two_owners, "D")
    assert "R00K" in two_owners.get("/find?words=R00K").text
    assert two_owners.get(address(own.sheet)).status_code == 200
    assert two_owners.get(address(own.art)).status_code == 403
    with own.home.database.write() as connection:
        for code in ("C", "D"):
            moves.permit(connection, code, True)
    assert two_owners.get(address(own.art)).status_code == 200
    assert two_owners.post("/laid", {"code": "E"}).status_code == 400


@pytest.mark.usefixtures("two_owners")
def test_what_a_ruling_rests_on_is_the_same_whoever_looks(own: Made, config: Config) -> None:
    code = views.family_holding(own.home, [own.art])
    seen = {views.family_view(own.home, config, code, ours).seen for ours in ("", "C", "D")}
    assert len(seen) == 1


def test_worn_places_are_drawn_and_ruled_on(own: Made, config: Config) -> None:
    client = Client(own.home, config)
    client.post("/who", {"who": "Ida Marl"})
    text = client.get(address(own.sheet)).text
    assert "worn-suggested" in text and "data-jump=" in text and "It is so" in text
    place = {name: str(value) for name, value in zip(TORN._fields, TORN, strict=True)}
    how = {"of_piece": f"{own.sheet.digest}-1", "part": f"{own.sheet.digest}-1", "light": "raking light"}
    answer = client.post("/condition", how | {"verb": "confirm_place", "sort": "tear"} | place)
    assert answer.headers["location"] == f"{address(own.sheet)}?done=1#h-worn"
    assert "worn-confirmed" in client.get(address(own.sheet)).text


def test_a_person_says_what_a_piece_is_made_of_and_takes_it_back(own: Made, config: Config) -> None:
    client = Client(own.home, config)
    assert "Nobody has said." in client.get(address(own.art)).text
    client.post("/who", {"who": "Ida Marl"})
    form = {"of_piece": f"{own.art.digest}-1", "text": " gouache on <board> ", "as": "probable"}
    assert client.post("/materials", form).headers["location"] == address(own.art)
    text = html.unescape(client.get(address(own.art)).text)
    assert "<b><bdi>gouache on <board></bdi></b>" in text and "probable, by <bdi>Ida Marl</bdi>" in text
    for odd in ({"text": ""}, {"text": "x" * 301}, {"as": "sure"}):
        assert client.post("/materials", form | odd).status_code == 409
    assert client.post("/materials", form | {"of_piece": f"{'f' * 64}-1"}).status_code == 404
    client.post("/undo", {"decision": "1"})
    assert "Nobody has said." in client.get(address(own.art)).text


def test_the_ledger_names_nothing_of_pieces_that_may_not_be_shown_here(two_owners: Client, own: Made) -> None:
    code = views.family_holding(own.home, [own.art])
    for label in ("C", "D"):  # ruled on while both permitted it; one takes it back later
        with own.home.database.write() as connection:
            moves.permit(connection, label, True)
    sent = form(two_owners, code, verb="part_off", out=f"{own.sheet.digest}-1")
    assert two_owners.post("/rulings", sent).status_code == 303
    with own.home.database.write() as connection:
        moves.permit(connection, "D", False)
    lay(two_owners, "C")
    code = views.family_holding(own.home, [own.art])
    pages = ("/ledger", "/ledger.csv", f"/families/{code}", f"/families/{code}?done=1", address(own.art))
    for text in (two_owners.get(at).text for at in pages):
        assert "B04 / 0022" not in text
    said = two_owners.get("/ledger").text
    assert "a piece of consignment D" in said and "who works on that consignment may see what lay there" in said
    assert "B01 / 0003" in said, "one's own pieces are named"
    assert "1 line as CSV" not in two_owners.get("/ledger?piece=B04+/+0022").text, "nor found by its place"
    lay(two_owners, "D")
    said = two_owners.get("/ledger").text
    assert "B04 / 0022" in said and "B01 / 0003" not in said
    assert "B04 / 0022" in two_owners.get("/ledger.csv").text


def test_families_to_join_are_those_that_may_be_named_here(two_owners: Client, own: Made, config: Config) -> None:
    with own.home.database.write() as connection:
        connection.exec_driver_sql(
            "UPDATE scan SET consignment = 'D' WHERE digest IN (?, ?)", (own.second_a.digest, own.second_b.digest)
        )
    regroup(own.home, config, STAMPS)
    code, hidden = (views.family_holding(own.home, [k]) for k in (own.art, own.second_a))
    sent = form(two_owners, code, verb="join", other=hidden)
    text = two_owners.get(f"/families/{code}").text
    assert hidden not in text and "B03 / 0030" not in text
    answer = two_owners.post("/rulings", sent)
    assert answer.status_code == 409 and "No other family is called" in answer.text
    assert in_ledger(own.home) == []

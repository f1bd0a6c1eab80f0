"""What changed in the field: what is cut stays cut, what is hung stays where it hangs, or a plain refusal."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from click.testing import CliRunner
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

import cli
from helpers.packets import plan_findings, short_plan, write_tables
from helpers.shed import JOB, PAPERS, again, earlier, job, places, sound
from layout.drawing.model.entities import Text
from layout.drawing.titles import revision_rows
from layout.errors import JobError, NoLayout
from layout.packet.plan_json import digest
from layout.integrated import never, quiet
from layout.pipeline import write_packet
from layout.records import Piece
from layout.revise import Done, Revised, progress_json, read_done, renew
from layout.revise.earlier import SPARE

MOVED = JOB.replace("at: 8'-4\"", "at: 11'-2\"")
LONGER = JOB.replace("length: 20'-0\"", "length: 22'-6\"")


def test_a_packet_reads_back_as_its_plan() -> None:
    plan, before = earlier()
    assert before.pieces == plan.pieces
    assert before.drops == plan.drops
    assert before.seams == plan.seams
    assert before.broken == plan.exceptions
    assert [made.rolls for made in before.cuttings] == [made.rolls for made in plan.cuttings]
    assert before.digest == digest(plan)


@pytest.mark.parametrize("tags", [(), ("R01",), ("R01", "R02", "R03", "S01", "S02")])
def test_with_nothing_changed_the_plan_is_the_same(tags: tuple[str, ...]) -> None:
    plan, before = earlier()
    known = {roll.tag for made in plan.cuttings for roll in made.rolls}
    made = again(JOB, cut=tuple(tag for tag in tags if tag in known))
    assert digest(made.plan) == before.digest
    assert (made.plan.drops, made.plan.seams, made.plan.pieces) == (plan.drops, plan.seams, plan.pieces)
    assert (made.plan.cuttings, made.plan.exceptions) == (plan.cuttings, plan.exceptions)


def test_with_everything_hung_the_plan_is_the_same_and_buys_nothing() -> None:
    plan, before = earlier()
    tags = frozenset(piece.tag for piece in plan.pieces)
    made = renew(before, Done(tags, tags), job(JOB), progress=quiet, stop=never)
    assert digest(made.plan) == before.digest
    assert places(made.plan) == places(plan)
    assert all("still to open 0 rolls" in words for words in made.words if "still to open" in words)
    assert made.done == Done(tags, tags)
    sound(made)


def test_hung_drops_stay_and_what_is_cut_stays_on_its_roll() -> None:
    plan, _ = earlier()
    made = again(MOVED, cut=("R01",), hung=("A-01", "A-02"))
    before = {drop.tag: (drop.left, drop.right) for drop in plan.drops}
    after = {drop.tag: (drop.left, drop.right) for drop in made.plan.drops}
    assert [after[tag] for tag in ("A-01", "A-02")] == [before[tag] for tag in ("A-01", "A-02")]
    kept = {"A-01", "A-02"}
    assert kept <= made.done.hung
    assert {tag: places(plan)[tag] for tag in kept} == {tag: places(made.plan)[tag] for tag in kept}
    first = next(roll for roll in made.plan.cuttings[0].rolls if roll.tag == "R01")
    assert first.length == plan.cuttings[0].rolls[0].length
    sound(made)


@pytest.mark.slow
def test_a_longer_wall_is_covered_past_what_hangs() -> None:
    plan, _ = earlier()
    last = [drop for drop in plan.drops if drop.run == "A"][-1]
    made = again(LONGER, hung=("A-01", "A-02", "A-03"), cut=(last.tag,))
    assert max(drop.right for drop in made.plan.drops if drop.run == "A") == job(LONGER).runs[0].length
    assert [drop for drop in made.plan.drops if drop.run == "B"] == [drop for drop in plan.drops if drop.run == "B"]
    sound(made, papers=True)


TALL = JOB.replace("top: 8'-0\"", "top: 16'-0\"")


@pytest.mark.slow
def test_a_tall_wall_is_covered_past_hung_drops_with_end_laps() -> None:
    """What hangs in two pieces stays; the new drops' end laps keep 12 in from those beside them, by the audit."""
    plan, before = earlier(TALL)
    hung = ("A-01", "A-02", "A-03")
    longer = TALL.replace("length: 20'-0\"", "length: 22'-6\"")
    made = renew(before, read_done(before, None, hung=hung), job(longer), progress=quiet, stop=never)
    kept = [piece for piece in plan.pieces if piece.drop in hung]
    assert len(kept) == 6
    there = {piece.tag: piece for piece in made.plan.pieces}
    assert [there[piece.tag].outline for piece in kept] == [piece.outline for piece in kept]
    assert {piece.tag for piece in kept} <= made.done.hung
    assert not [broken for broken in made.plan.exceptions if broken.rule == "end_lap_stagger"]
    sound(made, papers=True)


def patched(made: Revised, drop: Piece, sleeve_at: int, old_at: int, *, papers: bool) -> None:
    """Assert that a drop stays with a hole for the sleeve where it is now and a patch over the hole it had.

    By hand: the sleeve is 4 in across and a patch goes 6 in past it all round (collar_reach), so it is 16 in square;
    a hole is a polygon around its circle, a tick wider at most.
    """
    here = next(piece for piece in made.plan.pieces if piece.tag == drop.tag)
    middles = [(min(x for x, _ in hole) + max(x for x, _ in hole)) // 2 for hole in here.holes]
    assert sorted(middles) == sorted((sleeve_at, old_at))
    patch = next(piece for piece in made.plan.pieces if piece.kind == "patch")
    xs = [x for x, _ in patch.outline]
    assert (min(xs), max(xs)) == (old_at - 8 * 16, old_at + 8 * 16)
    assert (patch.length, patch.width) == (16 * 16, 16 * 16)
    assert any(f"{drop.tag} stays: cut the new hole into it" in words and patch.tag in words for words in made.words)
    assert patch.tag not in made.done.cut
    sound(made, papers=papers)


SLEEVE, NEARER = 24 * 192 + (8 * 12 + 4) * 16, 24 * 192 + (8 * 12 + 9) * 16
NEAR = JOB.replace("at: 8'-4\"", "at: 8'-9\"")


@PAPERS
def test_a_hung_drop_whose_sleeve_moved_gets_a_patch_and_a_new_hole(papers: bool) -> None:
    plan, _ = earlier()
    drop = next(piece for piece in plan.pieces if piece.kind == "drop" and piece.sleeves)
    made = again(NEAR, hung=(drop.tag,))
    assert drop.tag in made.done.hung
    patched(made, drop, NEARER, SLEEVE, papers=papers)


def test_the_audit_finds_a_hole_that_no_patch_closes() -> None:
    """The plan of a mended drop without its patch: the hole of the sleeve that moved is open."""
    plan, _ = earlier()
    drop = next(piece for piece in plan.pieces if piece.kind == "drop" and piece.sleeves)
    made = again(NEAR, hung=(drop.tag,)).plan
    patch = next(piece for piece in made.pieces if piece.kind == "patch")
    cuttings = tuple(replace(one, rolls=tuple(replace(roll, cuts=tuple(
        cut for cut in roll.cuts if cut.piece != patch.tag)) for roll in one.rolls)) for one in made.cuttings)
    bare = replace(made, pieces=tuple(piece for piece in made.pieces if piece is not patch), cuttings=cuttings)
    assert 201 in {finding.number for finding in plan_findings(bare)}


def test_the_drawings_of_a_revision_carry_triangles_and_its_table() -> None:
    """On East: the drop that is mended, and its patch; on South nothing."""
    from layout import drawing

    plan, before = earlier()
    drop = next(piece for piece in plan.pieces if piece.kind == "drop" and piece.sleeves)
    made = again(NEAR, hung=(drop.tag,))
    assert made.plan.revision is not None and made.plan.revision.number == 1
    changed = [tag for tag in made.plan.revision.changed if tag.startswith("A-")]
    assert changed[:1] == [drop.tag] and f"{drop.tag}-P1" in changed
    texts = {name: " ".join(re.findall(r">([^<>]+)</text>", text))
             for name, text in drawing.svg_elevations(made.plan).items()}
    east, south = texts["a-east.svg"], texts["a-south.svg"]
    words = f"Revision 1, made in the field from plan {before.digest}: new or changed here"
    assert f"{words} {', '.join(changed)}" in east and f"{words} nothing" in south
    assert "Revision" not in drawing.svg_elevations(plan)["a-east.svg"]
    table = [each.text for each in revision_rows(made.plan, 300.0, 60.0, (14.0, 26.0, 90.0)) if isinstance(each, Text)]
    assert table == ["REV", "R1", "DATE", "WHAT", f"in the field, from plan {before.digest}"]
    first = again(JOB, cut=("A-01",)).plan.revision
    assert first is not None and first.changed == ()


@pytest.mark.slow
def test_a_cut_drop_whose_sleeve_moved_is_patched_where_that_takes_less_sheet() -> None:
    plan, _ = earlier()
    drop = next(piece for piece in plan.pieces if piece.kind == "drop" and piece.sleeves)
    around = tuple(one.tag for one in plan.drops if one.run == "A")
    made = again(NEAR, cut=around)
    assert [piece.tag for piece in made.plan.pieces if piece.kind == SPARE] == []
    patched(made, drop, NEARER, SLEEVE, papers=True)


def test_a_wall_that_grew_gets_an_extension_strip_beside_the_one_that_hangs() -> None:
    """By hand: the last strip of East ends at 44'-0", the wall now at 46'-6"; an extension laps it by 5 in."""
    plan, _ = earlier()
    strips = tuple(piece.tag for piece in plan.pieces if piece.kind == "base strip" and piece.run == "A")
    made = again(LONGER, hung=strips)
    assert set(strips) <= made.done.hung
    new = [piece for piece in made.plan.pieces if piece.kind == "base strip" and piece.run == "A"
           and piece.tag not in strips]
    spans = [(min(x for x, _ in piece.outline), max(x for x, _ in piece.outline)) for piece in new]
    assert spans == [(44 * 192 - 5 * 16, 46 * 192 + 6 * 16)]
    sound(made)


def test_a_hung_collar_whose_sleeve_moved_stays_as_a_spare_and_another_is_cut() -> None:
    plan, _ = earlier()
    collar = next(piece for piece in plan.pieces if piece.kind == "collar")
    made = again(MOVED, hung=(collar.tag,))
    assert [piece.tag for piece in made.plan.pieces if piece.kind == SPARE] == [collar.tag]
    fresh = [piece for piece in made.plan.pieces if piece.kind == "collar"]
    assert len(fresh) == 1 and fresh[0].tag not in made.done.cut
    sound(made)


@pytest.mark.slow
def test_a_plain_cut_piece_is_used_where_a_drop_of_its_size_is_needed() -> None:
    lower = JOB.replace("top: 8'-0\"", "top: 7'-10\"")
    plan, _ = earlier()
    made = again(lower, cut=("R01",))
    trimmed = [words for words in made.words if "is made of the piece cut as" in words]
    assert trimmed and all("trim it to" in words for words in trimmed)
    old = {cut.piece: cut for cut in plan.cuttings[0].rolls[0].cuts}
    for words in trimmed:
        new, was = words.split()[0], words.split(" cut as ")[1].split(":")[0]
        _, at, _, length, width = places(made.plan)[new]
        assert old[was].at <= at and at + length <= old[was].at + old[was].length  # type: ignore[operator]
        assert width <= old[was].width  # type: ignore[operator]
    sound(made, papers=True)


@pytest.mark.slow
def test_a_strip_that_is_cut_for_a_shorter_wall_is_kept_and_lengthened() -> None:
    """By hand: 9'-0" is cut, 9'-7" is needed: 7 in and a lap of 5 in."""
    wider = JOB.replace("length: 9'-0\"", "length: 9'-7\"")
    made = again(wider, cut=("B-BS01", "B-10", "A-02"))
    more = next(piece for piece in made.plan.pieces if piece.tag.startswith("B-BS01x"))
    assert "B-BS01" in made.done.cut and more.length == 12 * 16 and more.tag not in made.done.cut
    sound(made, papers=True)


def test_no_new_piece_has_the_tag_of_another_that_is_cut() -> None:
    plan, _ = earlier()
    shapes = {piece.tag: (piece.kind, piece.length, piece.width) for piece in plan.pieces}
    made = again(LONGER, cut=("R01", "R02"))
    written = {piece.tag for piece in plan.pieces if places(plan)[piece.tag][0] in ("R01", "R02")}
    for piece in made.plan.pieces:
        if piece.tag in written:
            assert piece.kind == SPARE or shapes[piece.tag] == (piece.kind, piece.length, piece.width)


@settings(max_examples=5, deadline=None, derandomize=True, phases=[Phase.generate])
@given(st.data())
@pytest.mark.slow
def test_whatever_is_done_the_new_plan_is_sound_or_refused(data: st.DataObject) -> None:
    plan, _ = earlier()
    tags = [piece.tag for piece in plan.pieces]
    cut = tuple(data.draw(st.sets(st.sampled_from(tags), max_size=12)))
    hung = tuple(data.draw(st.sets(st.sampled_from(tags), max_size=4)))
    text = data.draw(st.sampled_from([MOVED, LONGER, JOB.replace("9'-0\"", "9'-7\"")]))
    try:
        made = again(text, cut=cut, hung=hung)
    except NoLayout as error:
        assert "is hung" in str(error) or "are hung" in str(error) or "fits" in str(error)
        return
    here = places(made.plan)
    assert made.done.hung >= set(hung)
    assert {tag: places(plan)[tag][0] for tag in hung} == {tag: here[tag][0] for tag in hung}
    sound(made)


@pytest.mark.parametrize(("change", "words"), [
    ("max_piece: 10'-0\"", "rules.max_piece: must stay as it was"),
    ("cut_allowance: 1", "rules.cut_allowance: must stay as it was"),
])
def test_rules_that_pieces_are_cut_by_stay(change: str, words: str) -> None:
    with pytest.raises(JobError, match=words):
        again(JOB.replace("corner_strip: 12,", f"corner_strip: 12, {change},"), cut=("R01",))


def test_an_opened_roll_stays_in_the_stock() -> None:
    with pytest.raises(JobError, match="membrane: must still list 66'-8\""):
        again(JOB.replace("price: 205", "price: 210"), cut=("R01",))
    made = again(JOB.replace("rolls: [", "rolls: [{length: 50'-0\", price: 150}, "), cut=("R01",))
    assert "R01" in {roll.tag for roll in made.plan.cuttings[0].rolls}


def test_rolls_on_hand_count_those_opened() -> None:
    plan, _ = earlier()
    count = sum(not roll.remnant for roll in plan.cuttings[0].rolls)
    with pytest.raises(NoLayout):
        again(MOVED.replace("price: 205", f"price: 205, on_hand: {count - 1}"), cut=("R01",), hung=())


# --- what is done ------------------------------------------------------------------------------

def test_done_reads_pieces_drops_and_rolls() -> None:
    plan, before = earlier()
    done = read_done(before, None, cut=["R01"], hung=["A-01"])
    assert {cut.piece for cut in plan.cuttings[0].rolls[0].cuts} <= done.cut
    assert done.hung == {"A-01"} <= done.cut
    with pytest.raises(JobError, match="--cut: must be a tag of the packet"):
        read_done(before, None, cut=["Z-99"])


def test_progress_goes_round(tmp_path: Path) -> None:
    plan, before = earlier()
    done = Done(frozenset({"A-01", "A-02"}), frozenset({"A-01"}))
    (tmp_path / "p.json").write_text(progress_json(plan, done), encoding="utf-8")
    assert read_done(before, tmp_path / "p.json") == done


def test_progress_of_another_plan_is_refused(tmp_path: Path) -> None:
    _, before = earlier()
    for plan in ({"plan": "0123456789ab"}, {}):
        text = json.dumps({"format": "lapwright progress", "cut": [], "hung": [], **plan})
        (tmp_path / "p.json").write_text(text, encoding="utf-8")
        with pytest.raises(JobError, match=f"plan: must be {before.digest}"):
            read_done(before, tmp_path / "p.json")


ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(
        st.sampled_from(["format", "plan", "cut", "hung", "job"]), inner, max_size=5), max_leaves=8,
)


@settings(max_examples=25, deadline=None)
@given(st.binary(max_size=60) | ANY_JSON.map(lambda value: json.dumps(value).encode()) | st.builds(
    lambda cut, hung: json.dumps({
        "format": "lapwright progress", "plan": earlier()[1].digest, "cut": cut, "hung": hung,
    }).encode(), ANY_JSON, ANY_JSON))
def test_a_bad_progress_file_is_told_in_plain_lines(raw: bytes) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "p.json"
        path.write_bytes(raw)
        try:
            read_done(earlier()[1], path)
        except JobError as error:
            assert all(line.isascii() and "\n" not in line for line in (
                line.replace(str(path), "") for line in error.lines()))


# --- the command -------------------------------------------------------------------------------

@pytest.mark.slow
def test_the_command_writes_a_sound_packet_and_its_progress(tmp_path: Path) -> None:
    (tmp_path / "shed.yaml").write_text(JOB, encoding="utf-8")
    packet = tmp_path / "shed-packet"
    assert write_packet(short_plan(JOB), packet) == ()
    run = CliRunner()
    change = "runs.A.faces.East.sleeves.P1.at=11'-2\""
    told = run.invoke(cli.main, ["revise", str(packet), "--hung", "A-01", "--with", change])
    assert told.exit_code == 0, told.output
    folder = tmp_path / "shed-packet-revised"
    assert run.invoke(cli.main, ["check", str(folder)]).exit_code == 0
    saved = json.loads((tmp_path / "shed-packet-revised-progress.json").read_text(encoding="utf-8"))
    assert saved["cut"] == saved["hung"] == ["A-01"]
    opened = json.loads((folder / "plan.json").read_text(encoding="utf-8"))["rolls"][0]["tag"]
    more = run.invoke(cli.main, ["revise", str(folder), "--progress", f"{folder}-progress.json", "--cut", opened,
                                 "-o", str(tmp_path / "third")])
    assert more.exit_code == 0, more.output
    plans = [json.loads((where / "plan.json").read_text(encoding="utf-8")) for where in (folder, tmp_path / "third")]
    assert plans[0]["digest"] == plans[1]["digest"]


def test_the_command_refuses_plainly(tmp_path: Path) -> None:
    run = CliRunner()
    told = run.invoke(cli.main, ["revise", str(tmp_path / "none")])
    assert told.exit_code == 2 and "must be a packet folder" in told.output
    told = run.invoke(cli.main, ["revise", str(tmp_path), "-o", str(tmp_path)])
    assert told.exit_code == 2 and "a folder of its own" in told.output
    told = run.invoke(cli.main, ["revise", str(tmp_path)])
    assert told.exit_code == 2 and "Traceback" not in told.output


def test_a_packet_with_findings_is_not_worked_on(tmp_path: Path) -> None:
    plan, _ = earlier()
    write_tables(replace(plan, drops=plan.drops[1:]), tmp_path)
    told = CliRunner().invoke(cli.main, ["revise", str(tmp_path)])
    assert told.exit_code == 2 and "must be a packet that passes the audit" in told.output

"""What happened in the field: told on the command line and in progress files, read strictly; the later word stands."""

from __future__ import annotations

import base64
import json
import zlib
from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from click.testing import CliRunner

import cli
from helpers.packets import short_plan
from helpers.shed import JOB, PAPERS, earlier, job, places, sound
from layout.errors import JobError, NoLayout
from layout.integrated import quiet
from layout.pipeline import write_packet
from layout.records import Plan, Roll
from layout.revise import Done, FieldWork, Options, Revised, Told, after, progress_schema, read_field
from layout.revise.chain import NoChain, unchained
from layout.revise.earlier import DAMAGED, MISSING, SPARE, SPOILT

FOOT = 12 * 16


def field(**told: object) -> FieldWork:
    cut = told.pop("cut", ())
    hung = told.pop("hung", ())
    _, before = earlier()
    return read_field(before, [], cut=cut, hung=hung, options=Options(**told))  # type: ignore[arg-type]


def again(text: str = JOB, **told: object) -> Revised:
    _, before = earlier()
    return after(before, field(**told), job(text), progress=quiet, stop=lambda: True)


def roll_of(plan: Plan, tag: str) -> Roll:
    return next(roll for made in plan.cuttings for roll in made.rolls if roll.tag == tag)


def first_roll() -> Roll:
    return earlier()[0].cuttings[0].rolls[0]


# --- pieces --------------------------------------------------------------------------------------

@PAPERS
def test_a_spoilt_piece_is_cut_again_from_other_sheet_and_its_own_is_waste(papers: bool) -> None:
    roll = first_roll()
    tags = [cut.piece for cut in roll.cuts]
    made = again(cut=(roll.tag,), spoilt=(tags[1],))
    here = places(made.plan)
    assert tags[1] not in made.done.cut and set(tags) - {tags[1]} <= made.done.cut
    waste = f"{tags[1]}.spoilt"
    assert next(piece for piece in made.plan.pieces if piece.tag == waste).kind == SPOILT
    assert here[waste] == places(earlier()[0])[tags[1]]
    old, new = places(earlier()[0])[tags[1]], here[tags[1]]
    assert new[0] != old[0] or new[1] >= old[1] + old[3] or new[1] + new[3] <= old[1]  # type: ignore[operator]
    assert any(words == f"recut: {tags[1]}, whose sheet is spoilt" for words in made.words)
    sound(made, papers=papers)


@pytest.mark.slow
def test_a_piece_cut_too_large_is_trimmed_and_one_cut_too_small_serves_elsewhere() -> None:
    """Run B's drops are 12 in shorter than run A's: one of A's cut 11 in short is long enough for one of them."""
    plan, _ = earlier()
    roll = first_roll()
    tag = next(cut.piece for cut in roll.cuts if cut.piece.startswith("A-"))
    length = next(piece.length for piece in plan.pieces if piece.tag == tag)
    larger = again(cut=(roll.tag,), wrong=(f"{tag}={(length + 16) / 16:g}\"x36\"",))
    assert tag in larger.done.cut and any(words.startswith(f"trim: {tag}, cut as") for words in larger.words)
    smaller = again(cut=(tag,), wrong=(f"{tag}={(length - 11 * 16) / 16:g}\"x36\"",))
    assert tag not in smaller.done.cut
    served = [words for words in smaller.words if f"is made of the piece cut as {tag}.wrong" in words]
    assert len(served) == 1 and served[0].startswith("B-")
    for made in (larger, smaller):
        sound(made, papers=True)


def test_a_piece_that_hangs_where_another_of_its_shape_belongs_is_that_one() -> None:
    plan, _ = earlier()
    drops = {drop.tag: drop for drop in plan.drops}
    left = drops["A-02"].left / 16
    made = again(cut=("A-03",), elsewhere=(f"A-03=A.South:{left + 0.5:g}\"",))
    assert made.done.hung == {"A-02"} and "A-03" not in made.done.cut
    assert places(made.plan)["A-02"] == places(plan)["A-03"]
    assert any("A-03 hangs where A-02 belongs: it is A-02 now" in words for words in made.words)


def test_a_piece_that_hangs_where_nothing_belongs_is_refused_with_a_way_out() -> None:
    left = next(drop for drop in earlier()[0].drops if drop.tag == "A-02").left / 16
    with pytest.raises(NoLayout, match="no drop begins within 1\" of there.*What would make it possible"):
        again(cut=("A-03",), elsewhere=(f"A-03=A.South:{left + 9:g}\"",))


# --- rolls and stock -----------------------------------------------------------------------------

def test_a_short_roll_is_cut_no_further_than_it_reaches() -> None:
    """The first roll is 30'-0" long and nothing is cut of it but its first drop of 8'-7 9/16"."""
    roll = first_roll()
    made = again(cut=(roll.cuts[0].piece,), rolls=(f"{roll.tag}=short:30'-0\"",))
    now = roll_of(made.plan, roll.tag)
    waste = [cut for cut in now.cuts if cut.piece == f"{roll.tag}-missing"]
    end = roll.length - earlier()[0].job.rules.roll_end
    assert [(cut.at, cut.at + cut.length) for cut in waste] == [(30 * FOOT, end)]
    assert next(piece for piece in made.plan.pieces if piece.tag == waste[0].piece).kind == MISSING
    assert all(cut.at + cut.length <= 30 * FOOT for cut in now.cuts if cut not in waste)
    assert len(now.cuts) > 2  # what is left of it is used
    sound(made)


def test_a_damaged_stretch_is_cut_around() -> None:
    roll = first_roll()
    made = again(cut=(roll.cuts[0].piece,), rolls=(f"{roll.tag}=damaged:20'-0\":22'-0\"",))
    now = roll_of(made.plan, roll.tag)
    bad = next(cut for cut in now.cuts if cut.piece == f"{roll.tag}-damaged")
    assert (bad.at, bad.length) == (20 * FOOT, 2 * FOOT)
    assert next(piece for piece in made.plan.pieces if piece.tag == bad.piece).kind == DAMAGED
    assert all(cut.at + cut.length <= bad.at or cut.at >= bad.at + bad.length for cut in now.cuts if cut is not bad)
    sound(made)


def test_of_a_lost_roll_only_what_is_cut_stays() -> None:
    roll = first_roll()
    kept = roll.cuts[0].piece
    made = again(cut=(kept,), rolls=(f"{roll.tag}=lost",))
    assert {cut.piece for cut in roll_of(made.plan, roll.tag).cuts} == {kept, f"{roll.tag}-lost"}
    sound(made)


@pytest.mark.slow
def test_with_fewer_rolls_delivered_it_is_planned_all_the_same_and_says_how_many_must_come() -> None:
    made = again(delivered=("66'-8\"=1",))
    count = sum(roll.length == 800 * 16 for roll in made.plan.cuttings[0].rolls)
    assert f"delivered: 1 of 66'-8\" are not enough: {count - 1} more must come" in made.words
    with pytest.raises(JobError, match="must be at least the 1 that are opened"):
        again(cut=(first_roll().tag,), delivered=("66'-8\"=0",))
    sound(made, papers=True)


@pytest.mark.slow
def test_a_remnant_that_was_found_is_used_before_a_roll_is_opened() -> None:
    made = again(cut=("A-01",), remnants=("K7=18'-0\"x36\"",))
    used = [roll for roll in made.plan.cuttings[0].rolls if roll.remnant]
    assert [roll.stock for roll in used] == ["K7"] and len(used[0].cuts) >= 2
    sound(made, papers=True)


@pytest.mark.slow
def test_rolls_not_opened_yet_stay_as_they_are_listed_where_that_takes_no_more() -> None:
    """A drop of the one roll that is opened is spoilt, and a remnant was found that holds it and nothing more."""
    plan, _ = earlier()
    roll = next(roll for roll in plan.cuttings[0].rolls
                if roll.leftover.length < min(piece.length for piece in plan.pieces if piece.product == roll.product))
    spoilt = next(piece for piece in plan.pieces if piece.tag == roll.cuts[0].piece)
    room = f"{spoilt.length / 16 + 4:g}\"x36\""
    made = again(cut=(roll.tag,), spoilt=(spoilt.tag,), remnants=(f"K7={room}",))
    found = next(now for now in made.plan.cuttings[0].rolls if now.remnant)
    assert (found.stock, [cut.piece for cut in found.cuts]) == ("K7", [spoilt.tag])
    others = [before for before in plan.cuttings[0].rolls if before.tag != roll.tag]
    assert len(others) >= 2
    for before in others:
        assert roll_of(made.plan, before.tag) == before
    sound(made, papers=True)


@pytest.mark.slow
def test_what_happened_is_remembered_by_the_next_revision(tmp_path: Path) -> None:
    """Waste stays waste: a second revision neither uses the sheet of a spoilt piece nor loses it."""
    from layout.pipeline import audit_folder
    from layout.revise import read_earlier

    roll = first_roll()
    made = again(cut=(roll.tag,), spoilt=(roll.cuts[1].piece,), rolls=(f"{roll.tag}=damaged:60'-0\":61'-0\"",))
    assert write_packet(made.plan, tmp_path / "p") == ()
    second = read_earlier(tmp_path / "p", audit_folder)
    then = after(second, FieldWork(Done(made.done.cut, made.done.hung), Told(), ()), second.job, progress=quiet,
                 stop=lambda: True)
    wasted = {piece.tag for piece in made.plan.pieces if piece.layer == SPARE}
    assert wasted and wasted == {piece.tag for piece in then.plan.pieces if piece.layer == SPARE}
    assert {tag: places(made.plan)[tag] for tag in wasted} == {tag: places(then.plan)[tag] for tag in wasted}


def test_a_roll_shorter_than_what_is_cut_from_it_cannot_be() -> None:
    roll = first_roll()
    with pytest.raises(JobError, match="must be at least as long as what is cut from it"):
        again(cut=(roll.tag,), rolls=(f"{roll.tag}=short:10'-0\"",))


@pytest.mark.parametrize(("told", "words"), [
    ({"rolls": ("R01",)}, "--roll: must be ROLL=short:LENGTH, ROLL=damaged:FROM:TO or ROLL=lost"),
    ({"rolls": ("R01=short",)}, "--roll: must be"),
    ({"rolls": ("R01=short:long",)}, "length must be a length"),
    ({"rolls": ("R01=short:0",)}, "length must be more than 0"),
    ({"rolls": ("R99=lost",)}, "must be a roll of the packet"),
    ({"rolls": ("R01=damaged:9':8'",)}, "must be damaged from a place to one further on"),
    ({"delivered": ("66'-8\"",)}, "--delivered: must be LENGTH=COUNT"),
    ({"delivered": ("66'-8\"=-1",)}, "--delivered: must be LENGTH=COUNT"),
    ({"delivered": ("12'=3",)}, "must be a length of roll that the job buys"),
    ({"remnants": ("K7=18'",)}, "--remnant: must be TAG=LENGTHxWIDTH"),
    ({"remnants": ("K7=18'x40\"",)}, "must be no wider than the sheet"),
    ({"wrong": ("A-01=x",)}, "--wrong: must be TAG=LENGTHxWIDTH"),
    ({"elsewhere": ("A-01=South",)}, "--elsewhere: must be TAG=RUN.FACE:LEFT"),
    ({"elsewhere": ("A-01=A.Nowhere:3'",)}, "must hang on a face of the job"),
    ({"spoilt": ("Z-99",)}, "must be a tag of the packet"),
])
def test_what_cannot_be_is_told_plainly(told: Mapping[str, tuple[str, ...]], words: str) -> None:
    with pytest.raises(JobError) as caught:
        again(**told)
    assert any(words in line for line in caught.value.lines())


# --- progress files ------------------------------------------------------------------------------

def saved(folder: Path, name: str, **parts: object) -> Path:
    _, before = earlier()
    path = folder / name
    path.write_text(json.dumps({"format": "lapwright progress", "version": 2, "plan": before.digest, "cut": [],
                                "hung": [], **parts}), encoding="utf-8")
    return path


def tick(piece: str, what: str, done: bool, hour: int) -> dict[str, object]:
    return {"piece": piece, "what": what, "done": done, "at": f"2026-05-04T{hour:02d}:00:00.000Z"}


def test_two_phones_merge_and_the_later_word_stands(tmp_path: Path) -> None:
    _, before = earlier()
    one = saved(tmp_path, "one.json", cut=["A-01", "A-02"], hung=["A-02"], ticks=[
        tick("A-01", "cut", True, 8), tick("A-02", "cut", True, 8), tick("A-02", "hung", True, 9)])
    two = saved(tmp_path, "two.json", cut=["A-03"], ticks=[
        tick("A-03", "cut", True, 8), tick("A-01", "cut", False, 10)])
    both = read_field(before, [one, two])
    assert both.done == Done(frozenset({"A-02", "A-03"}), frozenset({"A-02"}))
    assert len(both.words) == 1 and both.words[0].startswith("conflict: ") and "A-01" in both.words[0]
    assert "not cut" in both.words[0] and str(two) in both.words[0]
    assert read_field(before, [two, one]).done == both.done


def test_two_phones_that_contradict_each_other_without_a_time_are_refused(tmp_path: Path) -> None:
    _, before = earlier()
    one = saved(tmp_path, "one.json", cut=["A-01"])
    two = saved(tmp_path, "two.json", ticks=[tick("A-01", "cut", False, 10)])
    with pytest.raises(JobError, match="A-01: must be cut or not, not both"):
        read_field(before, [one, two])


def test_what_a_phone_was_told_counts_like_the_options(tmp_path: Path) -> None:
    plan, before = earlier()
    roll = first_roll()
    told = [{"what": "spoilt", "piece": roll.cuts[0].piece, "at": "2026-05-04T09:00:00Z"},
            {"what": "roll short", "roll": "R02", "length": "60'-2\"", "at": "2026-05-04T09:30:00Z"},
            {"what": "roll damaged", "roll": "R02", "from": "1'", "to": "2'", "at": ""},
            {"what": "delivered", "stock": "66'-8\"", "count": 3, "at": ""},
            {"what": "hung anyway", "piece": "A-02", "why": "rain", "lacking": ["x"], "at": ""},
            {"what": "remnant", "tag": "K7", "length": "9'", "width": "36\"", "at": ""}]
    read = read_field(before, [saved(tmp_path, "p.json", cut=[roll.cuts[0].piece], told=told)]).told
    assert read.spoilt == {roll.cuts[0].piece} and read.short == {"R02": 60 * FOOT + 32}
    assert read.damaged == {"R02": ((FOOT, 2 * FOOT),)} and read.delivered == {800 * 16: 3}
    assert [remnant.tag for remnant in read.remnants] == ["K7"]


def test_a_piece_hung_after_it_was_told_spoilt_hangs(tmp_path: Path) -> None:
    _, before = earlier()
    told = [{"what": "spoilt", "piece": "A-01", "at": "2026-05-04T09:00:00Z"}]
    for hour, hangs in ((10, True), (8, False)):
        path = saved(tmp_path, "p.json", cut=["A-01"], hung=["A-01"], told=told,
                     ticks=[tick("A-01", "cut", True, hour), tick("A-01", "hung", True, hour)])
        read = read_field(before, [path])
        assert ("A-01" in read.done.hung, "A-01" in read.told.spoilt) == (hangs, not hangs)
        assert any(words.startswith("conflict: A-01") for words in read.words)


@pytest.mark.parametrize(("parts", "words"), [
    ({"version": 3}, "version: must be 1 or 2"),
    ({"ticks": [{"piece": "A-01", "what": "eaten", "done": True, "at": ""}]}, "ticks[0].what: must be 'cut' or 'hung'"),
    ({"ticks": [{"piece": "A-01", "what": "cut", "done": True, "at": "noon"}]}, "ticks[0].at"),
    ({"told": [{"what": "rained"}]}, "told[0]"),
    ({"told": [{"what": "roll short", "roll": "R01"}]}, "told[0].roll short.length: must be there"),
    ({"cut": [1]}, "cut[0]: must be a valid string"),
])
def test_a_progress_file_is_held_to_its_schema(tmp_path: Path, parts: dict[str, object], words: str) -> None:
    _, before = earlier()
    with pytest.raises(JobError) as caught:
        read_field(before, [saved(tmp_path, "p.json", **parts)])
    assert any(words in line for line in caught.value.lines()), caught.value.lines()


def test_the_schema_of_the_progress_file_can_be_printed() -> None:
    told = CliRunner().invoke(cli.main, ["schema", "--progress"])
    assert told.exit_code == 0 and json.loads(told.output) == progress_schema()
    assert {"format", "cut", "hung"} <= set(json.loads(told.output)["required"])


# --- chains --------------------------------------------------------------------------------------

def chained(text: str, size: int = 30) -> list[str]:
    """Return the texts of codes, by the format's own rules: z, deflated, URL-safe base 64, checked by CRC-32."""
    whole = "z" + base64.urlsafe_b64encode(zlib.compress(text.encode())).decode().rstrip("=")
    parts = [whole[i:i + size] for i in range(0, len(whole), size)]
    check = f"{zlib.crc32(whole.encode()):08x}"
    return [f"LAPWRIGHT2 {i}/{len(parts)} {check} {part}" for i, part in enumerate(parts, 1)]


def test_a_chain_of_codes_is_read_in_any_order_and_as_a_progress_file(tmp_path: Path) -> None:
    _, before = earlier()
    text = saved(tmp_path, "p.json", cut=["A-01"], job="Größe").read_text(encoding="utf-8")
    codes = chained(text)
    assert len(codes) > 3 and unchained("\n".join([*reversed(codes), codes[0]])) == text
    (tmp_path / "codes.txt").write_text("\n".join(codes) + "\n", encoding="utf-8")
    assert read_field(before, [tmp_path / "codes.txt"]).done.cut == {"A-01"}


@pytest.mark.parametrize(("change", "words"), [
    (lambda codes: codes[1:], "missing: 1"), (lambda codes: [*codes[:-1], codes[-1][:-1]], "one was read wrong"),
    (lambda codes: [*codes, "hello"], "must be the text of a code on every line"),
    (lambda codes: [*codes, *chained("{}")], "must be the codes of one chain"),
])
def test_a_chain_that_is_not_whole_is_refused(change: object, words: str, tmp_path: Path) -> None:
    codes = change(chained('{"format": "lapwright progress", "cut": [], "hung": []}'))  # type: ignore[operator]
    with pytest.raises(NoChain, match=words):
        unchained("\n".join(codes))
    (tmp_path / "codes.txt").write_text("\n".join(codes), encoding="utf-8")
    with pytest.raises(JobError, match=words):
        read_field(earlier()[1], [tmp_path / "codes.txt"])


# --- the command ---------------------------------------------------------------------------------

@pytest.mark.slow
def test_the_command_takes_everything_at_once(tmp_path: Path) -> None:
    packet = tmp_path / "shed-packet"
    plan = short_plan(JOB)
    assert write_packet(plan, packet) == ()
    rolls = plan.cuttings[0].rolls
    told = CliRunner().invoke(cli.main, [
        "revise", str(packet), "--cut", rolls[0].tag, "--spoilt", rolls[0].cuts[0].piece,
        "--roll", f"{rolls[1].tag}=short:60'-2\"", "--roll", f"{rolls[2].tag}=lost", "--delivered", "66'-8\"=4",
        "--remnant", "K7=18'-0\"x36\""])
    assert told.exit_code == 0, told.output
    assert f"recut: {rolls[0].cuts[0].piece}" in told.output and "60'-2\" long, not 66'-8\"" in told.output
    assert CliRunner().invoke(cli.main, ["check", f"{packet}-revised"]).exit_code == 0
    page = (tmp_path / "shed-packet-revised" / "packet.html").read_text(encoding="utf-8")
    assert f"recut: {rolls[0].cuts[0].piece}" in page


def test_the_crews_page_names_what_changed_and_nothing_that_did_not() -> None:
    """A metric job with drainage board: a roll is short, so pieces come from other rolls; nothing is new or dropped."""
    from helpers.packets import write_tables
    from helpers.sample_plans import sample_plan

    from layout.revise import read_earlier

    plan = sample_plan("metric")
    with TemporaryDirectory() as folder:
        write_tables(plan, Path(folder))
        before = read_earlier(Path(folder), lambda folder: ())
    roll = next(roll for roll in plan.cuttings[0].rolls if not roll.remnant)
    told = read_field(before, [], cut=[roll.cuts[0].piece], options=Options(rolls=(f"{roll.tag}=short:12 m",)))
    made = after(before, told, before.job, progress=quiet, stop=lambda: True)
    heads = [words.split(":")[0] for words in made.words]
    assert "new" not in heads and "no longer needed, do not cut" not in heads
    assert f"as they were: {len(plan.pieces)} pieces" in made.words
    assert f"{roll.tag} is 12000 mm long, not {roll.length} mm" in made.words
    assert not any("cost" in words or "price" in words for words in made.words)

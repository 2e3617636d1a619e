"""The command line as a person meets it: output, exit codes, one sentence for a mistake."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from roomwright.cli import main

COMMANDS = (
    "new",
    "check",
    "microphone",
    "rehearse",
    "import",
    "tune",
    "prove",
    "handover",
    "demo",
    "devices",
    "interface",
    "playback",
    "measure",
)


def run(capsys, *words):
    with pytest.raises(SystemExit) as stopped:
        main([str(word) for word in words])
    captured = capsys.readouterr()
    return stopped.value.code, captured.out, captured.err


@pytest.fixture
def job(tmp_path, capsys):
    path = tmp_path / "cinema"
    code, _, _ = run(
        capsys, "new", path, "--layout", "M+030,M-030", "--rows", 1, "--seats-per-row", 1
    )
    assert code == 0
    return path


def test_help_names_every_command_and_the_exit_codes(capsys):
    code, out, _ = run(capsys, "--help")
    assert code == 0
    for command in COMMANDS:
        assert f"  {command} " in out
    assert "Exit codes" in out
    assert run(capsys)[1] == out


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_and_json(capsys, command):
    code, out, _ = run(capsys, command, "--help")
    assert code == 0
    assert "--json" in out


def test_help_needs_no_numerical_library():
    program = (
        "import sys\n"
        "from roomwright.cli import main\n"
        "try:\n"
        "    main(['--help'])\n"
        "except SystemExit:\n"
        "    print(sorted({'numpy', 'scipy', 'pydantic', 'shapely'} & set(sys.modules)))\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program], check=True, capture_output=True, text=True
    )
    assert ran.stdout.splitlines()[-1] == "[]"


def test_a_new_job_says_its_state_and_writes_the_sweep(job, capsys):
    assert (job / "job.json").is_file()
    assert (job / "outputs" / "sweep.wav").stat().st_size > 100_000
    code, out, _ = run(capsys, "check", job)
    assert code == 0
    assert "survey" in out
    code, out, _ = run(capsys, "check", job, "--json")
    stages = {stage["stage"]: stage["state"] for stage in json.loads(out)["stages"]}
    assert stages == {
        "room": "done",
        "layout": "done",
        "outputs": "done",
        "survey": "empty",
        "tuning": "empty",
        "proof": "empty",
        "handover": "empty",
    }


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("check", "{tmp}"), "is not a job folder: it has no job.json"),
        (("new", "{tmp}/a"), "Missing option '--layout'"),
        (("new", "{tmp}/a", "--layout", "99.9"), "99.9"),
        (("new", "{tmp}/a", "--layout", "5.1.2", "--size", "big"), "width x length x height"),
        (("new", "{tmp}/a", "--layout", "5.1.2", "--size", "4x5x0.2"), "outside 1 to 60 m"),
        (("new", "{tmp}/a", "--layout", "5.1.2", "--rate", "12345"), "allowed are 44100"),
        (("new", "{tmp}/a", "--layout", "5.1.2", "--rows", "0"), "--rows"),
        (("rehearse", "{job}", "--fault", "melted:1"), "the fault 'melted:1' is not one"),
        (("rehearse", "{job}", "--fault", "quiet:1"), "the fault 'quiet:1' is not complete"),
        (("rehearse", "{job}", "--fault", "dead:99"), "99"),
        (("tune", "{job}"), "nothing is measured yet"),
        (("tune", "{job}", "--method", "magic"), "allowed are biquads and fir"),
        (("tune", "{job}", "--crossover", "5000"), "allowed is 20 to 300"),
        (("tune", "{job}", "--crossover", "M+030=5000"), "allowed are 20 to 300 Hz"),
        (("tune", "{job}", "--crossover", "M+999=80"), "there is no channel or role M+999"),
        (("import", "{job}", "--index", "{job}/job.json", "--full-scale-db", "5"), "column file"),
        (("prove", "{job}"), "tune first"),
        (("handover", "{job}"), "tune first"),
        (("import", "{job}", "--index", "{tmp}/none.csv"), "it does not exist"),
        (("dance",), "No such command 'dance'"),
    ],
)
def test_a_mistake_is_one_sentence_and_exit_code_2(tmp_path, job, capsys, words, says):
    before = (job / "job.json").read_bytes()
    filled = [word.format(tmp=tmp_path, job=job) for word in words]
    code, out, err = run(capsys, *filled)
    assert code == 2
    assert out == ""
    assert says in err
    assert "Traceback" not in err
    assert len(err.strip().splitlines()) == 1
    assert (job / "job.json").read_bytes() == before


def test_check_lists_every_loudspeaker_from_every_seat_on_demand(job, capsys):
    _, out, _ = run(capsys, "check", job, "--angles")
    assert "M+030" in out
    assert "within" in out
    _, out, _ = run(capsys, "check", job, "--json")
    rows = json.loads(out)["angles"]
    assert [row["label"] for row in rows] == ["M+030", "M-030"]


def test_everything_wrong_with_a_document_is_said_at_once(job, capsys):
    document = job / "job.json"
    raw = json.loads(document.read_text("utf-8"))
    raw["seats"][0]["position_m"] = [9.0, 2.0, 1.2]
    raw["main_seat"] = "R7-7"
    document.write_text(json.dumps(raw), "utf-8")
    code, out, err = run(capsys, "check", job, "--json")
    assert code == 2
    assert len(err.strip().splitlines()) == 2
    assert len(json.loads(out)["problems"]) == 2


def test_a_document_of_a_newer_version_is_refused(job, capsys):
    document = job / "job.json"
    raw = json.loads(document.read_text("utf-8"))
    document.write_text(json.dumps({**raw, "schema_version": 99}), "utf-8")
    code, _, err = run(capsys, "check", job)
    assert code == 2
    assert "newer version" in err


def test_json_output_is_one_object_for_every_stage(tmp_path, job, capsys):
    document = job / "job.json"
    raw = json.loads(document.read_text("utf-8"))
    raw["sweep"]["duration_s"] = 1.0
    raw["stations"] = raw["stations"][:1]
    document.write_text(json.dumps(raw), "utf-8")
    codes = {}
    for command in ("rehearse", "tune", "prove", "handover"):
        code, out, _ = run(capsys, command, job, "--json")
        result = json.loads(out)
        assert result["job"] == str(job)
        codes[command] = code
    assert {code for command, code in codes.items() if command != "prove"} == {0}
    _, out, _ = run(capsys, "check", job, "--json")
    assert {stage["state"] for stage in json.loads(out)["stages"]} == {"done"}


def test_prove_exits_with_1_exactly_when_a_criterion_is_not_met(tmp_path, job, capsys):
    document = job / "job.json"
    raw = json.loads(document.read_text("utf-8"))
    raw["sweep"]["duration_s"] = 1.0
    raw["stations"] = raw["stations"][:1]
    document.write_text(json.dumps(raw), "utf-8")
    run(capsys, "rehearse", job)
    run(capsys, "tune", job)
    code, out, _ = run(capsys, "prove", job, "--json")
    measured = json.loads(out)["measured"]
    assert code == int(any(verdict["passed"] is False for verdict in measured))


BASS = ("search", "use", "array", "compare", "design", "figures")


@pytest.mark.parametrize("command", BASS)
def test_every_command_of_the_bass_has_help_and_json(capsys, command):
    code, out, _ = run(capsys, "bass", command, "--help")
    assert code == 0
    assert "--json" in out


def test_the_bass_from_the_drawing_on_the_command_line(tmp_path, capsys):
    path = tmp_path / "cinema"
    run(capsys, "new", path, "--layout", "5.1.2", "--size", "4.5x6x2.7", "--seats-per-row", 3)
    code, _, err = run(capsys, "bass", "use", path, 1)
    assert code == 2
    assert "search first" in err
    words = ("--count", 2, "--spacing", 1.5, "--keep-clear", "screen:0.5,0,4,0.5")
    code, out, _ = run(capsys, "bass", "search", path, *words, "--json")
    assert code == 0
    found = json.loads(out)
    assert found["choices"][0]["spread_db2"] > 0
    code, out, _ = run(capsys, "bass", "use", path, 2, "--json")
    assert code == 0
    placed = [one["position_m"] for one in json.loads(out)["subwoofers"]]
    assert sorted(placed) == sorted(found["choices"][1]["positions_m"])
    code, out, _ = run(capsys, "bass", "array", path, "--highest", 90, "--place")
    assert code == 0
    assert "4 subwoofers, 2 across and 1 up" in out
    assert "screen" in out
    code, out, _ = run(capsys, "bass", "compare", path)
    assert code == 0
    assert "simple array" in out
    assert "computed from the drawing" in out
    code, out, _ = run(
        capsys, "bass", "design", path, "--method", "even_seats", "--drawing", "--json"
    )
    assert code == 0
    tuned = {one["drives"]: one for one in json.loads(out)["tuning"]["outputs"]}
    assert len({tuned[f"SW{n}"]["delay_s"] for n in range(1, 5)}) > 1
    code, _, err = run(capsys, "bass", "design", path, "--means", "magic")
    assert code == 2
    assert "means" in err


def test_the_microphone_is_set_and_shown(capsys, job, tmp_path):
    path = tmp_path / "mic.txt"
    path.write_text("* serial 0042\n20 0\n40 0\n80 0\n", "utf-8")
    asked = ("microphone", job, "--serial", "0042", "--calibration", path, "--faces", "front")
    code, out, _ = run(capsys, *asked, "--full-scale-db", 120, "--json")
    assert code == 0
    shown = json.loads(out)
    assert (shown["serial"], shown["calibration_file"], shown["faces"]) == (
        "0042",
        "mic.txt",
        "front",
    )
    # 120 dB is 20 Pa rms.
    assert shown["sensitivity_pa"] == pytest.approx(20 * 2**0.5)
    code, out, _ = run(capsys, "microphone", job)
    assert code == 0
    assert "mic.txt" in out
    code, _, err = run(capsys, "microphone", job, "--serial", "7", "--calibration", path)
    assert code == 2
    assert "of microphone 0042; this job's microphone is 7" in err


def test_a_microphone_of_four_capsules_is_told_how_to_turn(capsys, job):
    code, _, err = run(capsys, "facing", job, "--station", "S-R1-1", "--source", "M+030")
    assert code == 2
    assert "one capsule" in err
    assert run(capsys, "microphone", job, "--four-capsules", 0.02)[0] == 0
    code, out, _ = run(capsys, "facing", job, "--station", "S-R1-1", "--source", "M+030", "--json")
    assert code == 0
    assert abs(json.loads(out)["turn_deg"]) < 3


def test_where_needs_a_survey(capsys, job):
    code, _, err = run(capsys, "where", job)
    assert code == 2
    assert "nothing is measured yet" in err


def test_the_bass_in_figures(tmp_path, capsys):
    """Of the channel once there is a tuning, before of a subwoofer; what is not there is said."""
    path = tmp_path / "two"
    wanted = ("--layout", "M+030,M-030,LFE1", "--rows", 1, "--seats-per-row", 2)
    run(capsys, "new", path, *wanted)
    code, _, err = run(capsys, "bass", "figures", path)
    assert (code, "nothing is measured yet" in err) == (2, True)
    run(capsys, "rehearse", path)
    code, out, _ = run(capsys, "bass", "figures", path)
    assert code == 0
    assert out.startswith("SW1, ")
    code, _, err = run(capsys, "bass", "figures", path, "--of", "M+000")
    assert (code, "allowed is one of: " in err) == (2, True)
    run(capsys, "tune", path)
    code, out, _ = run(capsys, "bass", "figures", path, "--json")
    sheet = json.loads(out)
    assert (code, sheet["source"], sheet["sets"]) == (0, "LFE1", ["predicted"])
    assert sheet["figures"][0][0] == "Variance over seats, dB²"

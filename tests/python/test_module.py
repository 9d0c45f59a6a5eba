"""The module gives what the commands give, to the last bit: JSON carries every double exactly."""
import json
import os
import subprocess

import numpy
import pytest

import ohmtilt

PROGRAM = os.environ["OHMTILT_PROGRAM"]
DEMO = os.path.join(os.environ["OHMTILT_SOURCE_DIR"], "impedance-curves")


def demo(name):
    return os.path.join(DEMO, name)


def told(*words):
    answer = subprocess.run([PROGRAM, *words, "--json"], capture_output=True, text=True)
    assert answer.returncode in (0, 1), answer.stderr
    return json.loads(answer.stdout)


def equal(array, values):
    assert numpy.array_equal(numpy.asarray(array), numpy.array(values, dtype=float))


EARPHONES = ["two-way-armature.csv", "planar.earphone.toml", "single-dynamic.circuit.toml"]


@pytest.mark.parametrize("name", EARPHONES)
def test_deviations_are_those_of_the_command(name):
    earphone = ohmtilt.read_earphone(demo(name))
    sources = [ohmtilt.source(6.0), ohmtilt.source(demo("attenuator-engaged.chain.toml"))]
    found = ohmtilt.compare_sources(earphone, ohmtilt.source("0.3"), sources, limit_db=1)
    json_ = told("deviation", demo(name), "--from", "0.3", "--to", "6",
                 "--to", demo("attenuator-engaged.chain.toml"), "--largest-source", "1")
    equal(found.frequency_hz, json_["frequency_hz"])
    for mine, theirs in zip(found.cases, json_["cases"], strict=True):
        equal(mine.deviation.deviation_db, theirs["deviation_db"])
        for key in ("span_db", "rms_db", "erb_span_db", "level_change_db"):
            assert getattr(mine.deviation, key) == theirs[key]
    assert found.largest_source_ohm == json_["largest_source"]["ohm"]


@pytest.mark.parametrize("anchor, flag", [(500.0, "500"), ((300.0, 3000.0), "band:300-3000"), (None, "none")])
def test_anchors_are_those_of_the_command(anchor, flag):
    earphone = ohmtilt.read_earphone(demo("five-armature.csv"))
    found = ohmtilt.compare_sources(earphone, ohmtilt.source(0.0), [ohmtilt.source(10.0)], band=(50, 10000),
                                    points=97, anchor=anchor)
    json_ = told("deviation", demo("five-armature.csv"), "--to", "10", "--from", "0", "--band", "50-10000",
                 "--points", "97", "--anchor", flag)
    equal(found.cases[0].deviation.deviation_db, json_["cases"][0]["deviation_db"])


def test_resonances_are_those_of_the_command():
    earphone = ohmtilt.read_earphone(demo("single-dynamic.circuit.toml"))
    found = ohmtilt.damping(earphone, [ohmtilt.source(0.3), ohmtilt.source(6.0)])
    json_ = told("damping", demo("single-dynamic.circuit.toml"), "--from", "0.3", "--to", "6")
    assert len(found.modes) == len(json_["resonances"]) > 0
    for mine, theirs in zip(found.modes, json_["resonances"]):
        assert mine.hz == theirs["hz"]
        for my_mode, their_mode in zip(mine.at, theirs["at"], strict=True):
            assert (my_mode is None) == (their_mode["hz"] is None)
            if my_mode is not None:
                q = my_mode.q if numpy.isfinite(my_mode.q) else None
                assert (my_mode.hz, q) == (their_mode["hz"], their_mode["q"])
    equal(found.frequency_hz, json_["frequency_hz"])


def test_pads_are_those_of_the_command():
    earphone = ohmtilt.read_earphone(demo("two-way-armature.csv"))
    found = ohmtilt.search_pads(earphone, ohmtilt.source(0.3), 10, ohmtilt.preferred_values("E12"))
    json_ = told("pad", demo("two-way-armature.csv"), "--source", "0.3", "--attenuation", "10", "--series", "E12")
    assert len(found.candidates) == len(json_["candidates"]) > 1
    for mine, theirs in zip(found.candidates, json_["candidates"]):
        for key in ("attenuation_db", "output_ohm", "span_db", "input_min_ohm"):
            assert getattr(mine, key) == theirs[key]
    assert found.recommended == json_["recommended"]


def test_circuits_are_those_of_solve():
    circuit = ohmtilt.read_circuit(demo("two-way-armature.circuit.toml"))
    hz = ohmtilt.log_grid()
    json_ = told("solve", demo("two-way-armature.circuit.toml"))
    z = circuit.driving_point(hz)
    equal(hz, json_["frequency_hz"])
    equal(z.real, json_["impedance_real_ohm"])
    equal(z.imag, json_["impedance_imag_ohm"])
    equal(circuit.thermal_noise(hz), json_["noise_volt_per_root_hz"])
    assert circuit.transfers(hz) == []


def test_arrays_are_views_that_outlive_their_owner():
    earphone = ohmtilt.read_earphone(demo("planar.csv"))
    found = ohmtilt.compare_sources(earphone, ohmtilt.source(0.0), [ohmtilt.source(6.0)])
    first, again = found.load_ohm, found.load_ohm
    assert numpy.shares_memory(first, again) and not first.flags.owndata and not first.flags.writeable
    kept = first.copy()
    del found, again
    equal(first.real, kept.real)


def test_what_is_wrong_is_said():
    with pytest.raises(ohmtilt.InputError, match="no-such-file"):
        ohmtilt.read_earphone("no-such-file.csv")
    with pytest.raises(ValueError):
        ohmtilt.source(-1.0)
    with pytest.raises(ohmtilt.InputError):
        ohmtilt.compare_sources(ohmtilt.read_earphone(demo("planar.csv")), ohmtilt.source(0.0),
                                [ohmtilt.source(6.0)], anchor=5.0)


def test_every_name_has_a_docstring():
    for name in dir(ohmtilt):
        thing = getattr(ohmtilt, name)
        if not name.startswith("_") and not (isinstance(thing, type) and issubclass(thing, Exception)):
            assert thing.__doc__, name


def test_the_readme_s_lines_run(tmp_path, monkeypatch):
    readme = open(os.path.join(os.environ["OHMTILT_SOURCE_DIR"], "README.md")).read()
    pytest.importorskip("matplotlib").use("Agg")
    lines = readme.split("```python\n")[1].split("```")[0]
    assert len(lines.splitlines()) <= 10
    monkeypatch.chdir(os.environ["OHMTILT_SOURCE_DIR"])
    exec(lines.replace('"deviation.png"', repr(str(tmp_path / "deviation.png"))), {})
    assert (tmp_path / "deviation.png").stat().st_size > 10000

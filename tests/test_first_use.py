"""A name loads when it is first used: nobody notices, whatever was used before.

What depends on what is loaded shows only in a new interpreter, so most scripts run in one.
"""

from __future__ import annotations

import inspect
import os
import pickle
import pydoc
import subprocess
import sys
import typing
from pathlib import Path

import pytest

import flowunc

ROOT = Path(flowunc.__file__).parents[1]


def run(script: str, *arguments: str, **options: typing.Any) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", script, *arguments],
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        **options,
    )


def printed(script: str, *arguments: str) -> str:
    done = run(script, *arguments)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


# -- what loads when -----------------------------------------------------------------------------
def test_import_loads_no_library_and_no_layer() -> None:
    loaded = printed(
        "import sys, flowunc\n"
        "print(*(name for name in sys.modules if name.startswith(('numpy', 'scipy', 'flowunc'))))"
    )
    assert loaded == "flowunc"


def test_coherent_units_do_without_the_table_of_constants() -> None:
    script = (
        "import sys, flowunc\n"
        "flowunc.Length(1.0, 'm', flowunc.standard(0.1)).u\n"
        "flowunc.Quantity(2.0, 'kg*m^2/s^3')\n"
        "print('scipy.constants' in sys.modules, 'scipy.special' in sys.modules)\n"
        "flowunc.Length(1.0, 'mm')\n"
        "print('scipy.constants' in sys.modules)"
    )
    assert printed(script).split() == ["False", "False", "True"]


@pytest.mark.parametrize("place", flowunc._PLACES)
def test_any_place_may_be_the_first_to_load(place: str) -> None:
    names = flowunc._PLACES[place]
    script = (
        "import importlib, sys, flowunc\n"
        "place, *names = sys.argv[1:]\n"
        "found = [getattr(flowunc, name) for name in names]\n"
        "module = importlib.import_module(f'flowunc.{place}')\n"
        "assert all(a is getattr(module, name) for a, name in zip(found, names, strict=True))\n"
        "assert all(vars(flowunc)[name] is a for a, name in zip(found, names, strict=True))\n"
        "print('all')"
    )
    assert printed(script, place, *names.split()) == "all"


@pytest.mark.parametrize("layer", flowunc._LAYERS)
def test_a_layer_is_an_attribute_without_an_import_of_its_own(layer: str) -> None:
    assert printed(f"import flowunc\nprint(flowunc.{layer}.__name__)") == f"flowunc.{layer}"


def test_arithmetic_gives_typed_quantities_from_the_first_one_on() -> None:
    # the kinds are entered into Quantity by their module, which used to be loaded by the import
    for start in ("from flowunc import Quantity", "from flowunc.core.quantity import Quantity"):
        assert printed(f"{start}\nprint(type(Quantity(2, 'm') * Quantity(3, 'm')).__name__)") == (
            "Area"
        )


# -- pickles and documents -----------------------------------------------------------------------
# Water is an operation of its own; the law is plain arithmetic, with a component of its module.
MADE = {
    "water": "flowunc.water.density(flowunc.Temperature(20.0, 'degC', flowunc.limits(0.1)))",
    "law": "flowunc.laws.blasius(flowunc.ReynoldsNumber(1e4, '1', flowunc.limits(9.0)))",
}
MODULE = {"water": "flowunc.fluids.water", "law": "flowunc.pipe.laws.smooth"}
READ = {
    "pickle": "import pickle\nread = pickle.loads((folder / f'{what}.pickle').read_bytes())",
    "json": "import flowunc\nread = flowunc.from_json(folder / f'{what}.json')",
}


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with results of another process, as pickles and as JSON."""
    folder = tmp_path_factory.mktemp("stored")
    for what, made in MADE.items():
        script = (
            "import pathlib, pickle, sys, flowunc\n"
            f"folder, made = pathlib.Path(sys.argv[1]), {made}\n"
            f"flowunc.to_json(made, folder / '{what}.json')\n"
            f"(folder / '{what}.pickle').write_bytes(pickle.dumps(made))"
        )
        printed(script, str(folder))
    return folder


@pytest.mark.parametrize("what", MADE)
@pytest.mark.parametrize("way", READ)
def test_a_built_in_component_is_that_of_its_module_though_the_result_was_read_first(
    way: str, what: str, stored: Path
) -> None:
    script = (
        "import pathlib, sys\n"
        f"folder, what = pathlib.Path(sys.argv[1]), '{what}'\n{READ[way]}\n"
        f"import flowunc, {MODULE[what]} as module\n"
        "built_in = {c.key: c for c in vars(module).values() if isinstance(c, flowunc.Component)}\n"
        "met = [c for c in read.components if c.key in built_in]\n"
        "print(len(met) > 0, all(c is built_in[c.key] for c in met))\n"
        f"print(read.correlation({MADE[what]}) > 0.5)"
    )
    assert printed(script, str(stored)).split() == ["True", "True", "True"]


def test_a_document_that_contradicts_a_built_in_component_is_refused_at_first_use(
    stored: Path,
) -> None:
    text = (stored / "law.json").read_text(encoding="utf-8")
    script = (
        "import json, sys, flowunc\n"
        "document = json.load(sys.stdin)\n"
        "for component in document['components']:\n"
        "    if component['key'].startswith('flowunc.'):\n"
        "        component['scope'] = 'each' if component['scope'] == 'shared' else 'shared'\n"
        "try:\n"
        "    flowunc.from_json(json.dumps(document))\n"
        "except flowunc.DocumentError as error:\n"
        "    print(error)"
    )
    done = run(script, input=text)
    assert done.returncode == 0, done.stderr
    assert "one error behind one key" in done.stdout


def test_every_public_class_and_function_is_pickled_by_a_name_that_loads_it() -> None:
    script = (
        "import pickle, sys\n"
        "found = pickle.loads(bytes.fromhex(sys.argv[1]))\n"
        "import flowunc\n"
        "print(found is getattr(flowunc, sys.argv[2]))"
    )
    for name in ("Length", "Scale", "agreement", "plan", "FlowuncWarning"):
        assert printed(script, pickle.dumps(getattr(flowunc, name)).hex(), name) == "True"


# -- threads -------------------------------------------------------------------------------------
# Each module takes some time to load, at random, so that the threads meet in the midst of it.
THREADS = """
import random, sys, threading, time
from importlib.machinery import SourceFileLoader

seed, threads = int(sys.argv[1]), 8
pause, execute = random.Random(seed), SourceFileLoader.exec_module


def slowly(loader, module):
    if module.__name__.startswith("flowunc."):
        time.sleep(pause.uniform(0.0, 0.004))
    execute(loader, module)


SourceFileLoader.exec_module = slowly
import flowunc

start, found, failed = threading.Barrier(threads), [], []


def work(which):
    names = [*flowunc.__all__, *flowunc._LAYERS]
    random.Random(100 * seed + which).shuffle(names)
    start.wait()
    try:
        if which % 2:
            area = flowunc.Length(1.0, "mm", flowunc.limits(0.1)) ** 2
            area.u, str(area), area.expanded(), area.monte_carlo(trials=2000, seed=1)
            flowunc.from_json(flowunc.to_json(area))
        found.append({name: getattr(flowunc, name) for name in names})
    except BaseException as error:
        failed.append(repr(error))


workers = [threading.Thread(target=work, args=(which,)) for which in range(threads)]
for worker in workers:
    worker.start()
for worker in workers:
    worker.join(120)
assert not failed, failed
print(len(found), all(one[name] is found[0][name] for one in found for name in one))
"""


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_threads_that_use_names_for_the_first_time_at_once_get_the_same(seed: int) -> None:
    assert printed(THREADS, str(seed)) == "8 True"


# -- what tools ask for --------------------------------------------------------------------------
def test_star_import_brings_the_public_names() -> None:
    script = "from flowunc import *\nprint(*(name for name in dir() if not name.startswith('_')))"
    assert printed(script).split() == sorted(flowunc.__all__)


def test_help_shows_the_names_with_their_docstrings() -> None:
    shown = printed("import flowunc, pydoc\nprint(pydoc.plain(pydoc.render_doc(flowunc)))")
    lines = shown.splitlines()
    for name in flowunc.__all__:
        thing = getattr(flowunc, name)
        if inspect.isclass(thing):
            assert any(line.startswith((f"    class {name}(", f"    {name} = ")) for line in lines)
        elif inspect.isfunction(thing):
            assert any(line.startswith(f"    {name}(") for line in lines), name
    assert pydoc.getdoc(flowunc.limits).splitlines()[0] in shown
    assert "__getattr__" not in shown


def test_signatures_and_hints_are_those_of_the_things_themselves() -> None:
    script = (
        "import inspect, typing, flowunc\n"
        "print(typing.get_type_hints(flowunc.mean_velocity)['return'] is flowunc.Velocity)\n"
        "print(*inspect.signature(flowunc.mean_velocity).parameters)\n"
        "print(inspect.getmodule(flowunc.Length).__name__)"
    )
    typed, first, second, module = printed(script).split()
    assert (typed, first, second) == ("True", "flow", "bore")
    assert module == "flowunc.core.kinds"


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("Lenght", "Length"),
        ("reynolds", "reynolds_number"),
        ("LIMITS", "limits"),
        ("Agrement", "Agreement"),
        ("instrument", "Instrument"),
        ("analysys", "analysis"),
    ],
)
def test_a_misspelt_name_is_answered_with_the_nearest(written: str, meant: str) -> None:
    with pytest.raises(AttributeError, match=f"no attribute '{written}'; did you mean '{meant}'"):
        getattr(flowunc, written)
    assert not hasattr(flowunc, written)


def test_the_interpreter_does_not_repeat_the_question() -> None:
    done = run("import flowunc\nflowunc.Lenght")
    assert done.stderr.splitlines()[-1] == (
        "AttributeError: module 'flowunc' has no attribute 'Lenght'; did you mean 'Length'?"
    )


def test_a_name_near_to_none_leads_to_the_list() -> None:
    with pytest.raises(AttributeError, match=r"'qqqq'; dir\(flowunc\) lists"):
        getattr(flowunc, "qqqq")  # noqa: B009 - as a mere expression it would look forgotten
    with pytest.raises(AttributeError, match=r"no attribute '__wrapped__'$"):
        getattr(flowunc, "__wrapped__")  # noqa: B009


@pytest.mark.slow
def test_type_checkers_see_exact_types(tmp_path: Path) -> None:
    # Slow is the type checker, which reads the whole package.
    script = tmp_path / "user.py"
    script.write_text(
        "import flowunc\n"
        "from flowunc import *\n"
        "bore: Length = flowunc.Length(19.05, 'mm', limits(0.05))\n"
        "reveal_type(flowunc.water.density)\n"
        "reveal_type(flowunc.agreement)\n"
        "flowunc.Lenght\n"
        "wrong: int = bore\n",
        encoding="utf-8",
    )
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--follow-imports=silent", str(script)],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        env=os.environ | {"MYPYPATH": str(ROOT)},
    )
    found = [line for line in done.stdout.splitlines() if line.startswith("user.py")]
    assert len(found) == 4, done.stdout
    assert 'user.py:4: note: Revealed type is "def (temperature: flowunc.core.kinds.' in found[0]
    assert "flowunc.analysis.agreement.Agreement" in found[1]
    assert 'user.py:6: error: Module has no attribute "Lenght"' in found[2]
    assert "user.py:7: error: Incompatible types in assignment" in found[3]

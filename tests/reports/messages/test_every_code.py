"""Every table that is keyed by codes has all of them: sentences in messages, priors of errors."""

import importlib
import inspect
import pkgutil
import typing

import pytest

import reports.messages
from reports.inference import error_priors
from reports.messages.sentences import say
from reports.model import notes

NAMES = [f"reports.messages.{m.name}" for m in pkgutil.iter_modules(reports.messages.__path__)]
PARTIAL = ("_REMARKS",)
"""Words for some of the codes, where a remark has others than a fault."""
MODULES = [*map(importlib.import_module, NAMES), error_priors]


def tables():
    """Each table of a module that is annotated as keyed by codes, and the codes."""
    found = []
    for module in MODULES:
        for name, annotation in inspect.get_annotations(module).items():
            if annotation.startswith("dict[") and name not in PARTIAL:
                codes, _ = typing.get_args(eval(annotation, dict(vars(module))))
                if typing.get_origin(codes) is typing.Literal:
                    found.append(pytest.param(getattr(module, name), codes, id=f"{module.__name__}.{name}"))
    return found


@pytest.mark.parametrize(("table", "codes"), tables())
def test_a_table_has_every_code_of_its_kind(table, codes):
    assert set(table) == set(typing.get_args(codes))


ON = {
    notes.OnPickups(("neck", "bridge")): "neck and bridge",
    notes.OnString("E2", "neck"): "E2 at neck",
    notes.OnReading("neck", "m002"): "neck (m002)",
    notes.OnInput(2, "this box"): "input 2 of this box",
    notes.OnRig("this box"): "this box",
    notes.OnTool("steel rod"): "steel rod",
    notes.OnSettings(("front", "rear")): '"front", "rear"',
}


@pytest.mark.parametrize("kind", typing.get_args(notes.ErrorKind))
@pytest.mark.parametrize("subject", ON)
def test_an_error_is_named_with_what_it_is_on(kind, subject):
    error = notes.BenchError(kind, subject)
    cause, one_left = say(notes.LikelyCause((error,))), say(notes.OneErrorLeft(error))
    assert ON[subject] in cause and "probably" in cause
    assert ON[subject] in one_left and "probably" not in one_left
    assert "{" not in cause + one_left + say(notes.CheckError(error))

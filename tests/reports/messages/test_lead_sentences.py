"""Every code of a note on leads has its sentence, which names only fields of its note."""

import typing

import pytest

from reports.messages import leads
from reports.messages.sentences import say
from reports.model import lead_notes as notes
from reports.model.plan import Demand, PickupWork

PAIR = ("violet", "grey")
CODES = {
    notes.PlanReasonCode: lambda code: notes.PlanReason(code, "neck", "bridge", (1, 2), "Pluck both."),
    notes.LeadWarningCode: lambda code: notes.LeadWarning(code, "neck", ("split",)),
    notes.JointAdviceCode: lambda code: notes.JointAdvice(code, (*PAIR, "orange", "brown")),
    notes.LeadRequestCode: lambda code: notes.LeadRequest(
        code, "neck", (PAIR, ("grey", "brown")), "bridge", "grey"
    ),
    notes.OhmsConflictCode: lambda code: notes.OhmsConflict(code, "neck", ("r001", "r002"), PAIR, None, 9, 6),
    notes.OhmsRemarkCode: lambda code: notes.OhmsRemark(
        code, "neck", PAIR, (20.0, 2.0, None), "r001", (2, 1), ("grey", "brown")
    ),
    notes.JackReadingCode: lambda code: notes.JackReading(code, 3.4, 6.0, ("neck",)),
}


@pytest.mark.parametrize(
    ("make", "code"), [(make, code) for codes, make in CODES.items() for code in typing.get_args(codes)]
)
def test_every_code_has_a_sentence(make, code):
    sentence = say(make(code))
    assert sentence.endswith(".")
    assert not any(word in sentence for word in ("{", "}", "None", "()"))


@pytest.mark.parametrize(
    ("note", "sentence"),
    [
        (notes.EqualPlan((("neck", PickupWork(exchange=True, coils=(2,), magnet=True)),)),
         "As little work: exchange hot and ground of neck and exchange the leads of coil 2 of neck alone and "
         "turn the magnet of neck."),
        (notes.MoreEqualPlans(3), "As little work in 3 other ways besides."),
        (notes.CompromisePlan((), (("both", "quiet"), ("all", "in phase")), quieter=True),
         "A dearer plan keeps more of the quiet: leave everything as it is. It gives up "
         '"both" (quiet) and "all" (in phase).'),
        (notes.DemandsConflict((Demand("a", ()), Demand("b", (), quiet=True)), False, ("neck",), False),
         '"a" (in phase) and "b" (in phase and quiet) cannot both be met by exchanging leads. Give up one of '
         "them, or put a phase switch on one pickup. The magnet of neck cannot be turned."),
        (notes.DemandsConflict((Demand("a", (), None, True),), True, (), True),
         'Hum cannot cancel in "a": its coils cannot be paired off, so that one is always left over. Leave '
         "one out, or live with the hum. The plan is for the strings alone."),
    ],
)  # fmt: skip
def test_what_a_plan_gives_up_is_named(note, sentence):
    assert say(note) == sentence


def test_names_are_listed_with_and_before_the_last():
    assert say(notes.OhmsRemark("no path", "neck", ("a", "b", "c"))).startswith(
        "No coil was found on a, b and c:"
    )
    assert leads.OPEN in say(notes.OhmsConflict("probably wrong", "neck", ("r001",), PAIR, None))

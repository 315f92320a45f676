"""The paper sheet says what the program says, everywhere it ends, and fits its two pages."""

from __future__ import annotations

import pytest

from fieldkit.engine.diagnosing.diagnose import diagnose
from fieldkit.flows.diagnosing.paper_tree import MOST_ENDS, Asked, End, Way, paper_tree, paths
from fieldkit.tables.diagnosis import causes, options


def walk(ways: tuple[Way, ...]) -> list[Asked | End]:
    found: list[Asked | End] = []
    for way in ways:
        found.append(way.to)
        if isinstance(way.to, Asked):
            found.extend(walk(way.to.ways))
    return found


@pytest.mark.parametrize(("answers", "end"), paths(), ids=lambda value: None)
def test_each_end_names_the_cause_that_the_program_puts_first(answers, end):
    assert diagnose(answers).causes[0].id == end.cause


def test_it_starts_from_every_type_of_joint():
    types = [way.options[0] for way in paper_tree()]
    assert types == [option.option_id for option in options()["fitting_type"]]


def test_every_answer_of_a_question_that_is_asked_leads_somewhere():
    for one in walk(paper_tree()):
        if isinstance(one, Asked):
            placed = [option for way in one.ways for option in way.options]
            assert len(placed) == len(set(placed))
            assert set(placed) <= {option.option_id for option in options()[one.question]}
            assert len(one.ways) > 1


def test_it_stays_within_the_room_there_is():
    ends = [one for one in walk(paper_tree()) if isinstance(one, End)]
    assert len(ends) <= MOST_ENDS
    assert len({end.cause for end in ends}) > len(causes()) / 2

"""A tube is exchanged with a twin in the set, or with a spare that the bench really has."""

from backporch.engine.cli.setup import make_workbench
from backporch.engine.session.assess import assess
from backporch.engine.session.danger import safety_state
from backporch.engine.session.entry import Entry
from backporch.engine.session.interview import Interview

ENTRIES = [
    Entry("circumstance", "condition", "worked-last-week"),
    Entry("circumstance", "supply-aid", "full-mains"),
    Entry("circumstance", "company", "accompanied"),
    Entry("symptom", "picture-weak"),
]


def _offered(owned):
    """Return the tubes whose exchange is offered with what the bench has."""
    workbench = make_workbench("plover-17", owned)
    interview, assessment = Interview(workbench), assess(workbench, ENTRIES)
    state = safety_state(workbench, ENTRIES)
    return {
        offer.target
        for offer in workbench.faults.offers.values()
        if offer.name == "exchange-tube" and interview.may_offer(offer, assessment, state)
    }


class TestExchange:
    def test_without_spares_only_twins_are_exchanged(self):
        """Without spares only tubes of which the set has two are offered for exchange."""
        workbench = make_workbench("plover-17")
        twins = {name for name in workbench.chassis.tubes if workbench.twin_of(name)}

        assert _offered(()) == twins
        assert twins

    def test_a_spare_at_hand_widens_the_offer(self):
        """With spare tubes at hand other tubes are offered too, but not the output tube without proved drive."""
        offered = _offered(("spare-tubes",))

        assert "V13" in offered
        assert "V16" not in offered

"""Which lot a line came from: typed for, chosen, or scanned; the label on the package picks its lot."""

from collections.abc import Sequence

from inventory.errors import PracticeError
from inventory.service import labels
from inventory.service.labels import Scanned
from inventory.service.laying_out import LotChoice
from inventory.service.practice import Practice
from tui import text as shown
from tui import workers
from tui.dialogs.choose import ChooseDialog


class LotDialog(ChooseDialog[int]):
    """The lots to choose from; answers the stock number of one.

    Args:
        heading: what is chosen.
        choices: stock number and words of each.
        question: a sentence above the list.
        lots: those that a scan may pick, best first.
        practice: where a label is looked up.
    """

    def __init__(
        self,
        heading: str,
        choices: Sequence[tuple[int, str]],
        question: str,
        *,
        lots: Sequence[LotChoice],
        practice: Practice,
    ) -> None:
        super().__init__(heading, choices, question, of=("lot", "lots"))
        self._lots, self._practice = tuple(lots), practice

    def take_stray_scan(self, label: str) -> None:
        """A label was scanned while the list is open."""
        practice = self._practice
        workers.run(self, lambda: labels.find(practice, label), self._pick, name="scan", failed=self._not_read)

    def _pick(self, scanned: Scanned) -> None:
        named = {(lot.item_id, lot.number) for lot in scanned.lots}
        found = [lot for lot in self._lots if (lot.item_id, lot.lot_number) in named]
        if scanned.questions:
            self._refuse(f"{scanned.questions[0]} Choose the lot by hand.")
        elif not found:
            self._refuse("Its lot is none of these.")
        elif len({(lot.item_id, lot.lot_number) for lot in found}) > 1:
            self._refuse("It does not say which lot it is. Choose it by hand.")
        else:
            self.answer(found[0].holding_id)

    def _not_read(self, error: PracticeError) -> bool:
        self._refuse(str(error))
        return True

    def _refuse(self, why: str) -> None:
        self.notify(shown.clean(why), title="Label not used", severity="warning", markup=False)

"""What the shopping list covers already: a need that an item covers is checked, not bought."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from buildplan.bill.derived.model import Need
from buildplan.bill.lines import BillLine
from buildplan.tables.wording import normal_key

_WORD = re.compile(r"m\d+(?:\.\d+)?|[^\W\d_]+|\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """An item of the shopping list, as far as it can cover a need.

    Attributes:
        line: What is bought of it: quantity, packs, price.
        needed: false for what is only listed.
        covers: Needs that it covers by word of the build file.
        holds: How much of the need's unit one of the item's units holds; 0 where not said.
    """

    line: BillLine
    needed: bool = True
    covers: tuple[str, ...] = ()
    holds: Decimal = Decimal(0)

    @property
    def name(self) -> str:
        """Its name on the shopping list."""
        return self.line.wanted.item

    @property
    def asked(self) -> Decimal:
        """What the build file says the device takes."""
        return self.line.wanted.need

    @property
    def there(self) -> Decimal:
        """What will be there: whole packs and what is on hand; of what you have, what it says."""
        wanted = self.line.wanted
        if wanted.state == "have":
            return max(wanted.need, wanted.on_hand)
        return wanted.pack * self.line.packs + wanted.on_hand


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered:
    """An item and every need that it covers."""

    item: Item
    needs: tuple[Need, ...]

    @property
    def same_unit(self) -> bool:
        """Whether needs and item are counted alike."""
        return all(self.factor(need) > 0 for need in self.needs)

    @property
    def wanted(self) -> Decimal:
        """All needs together, in the item's unit."""
        return sum((self._in_item(need.quantity, need) for need in self.needs), Decimal(0))

    def factor(self, need: Need) -> Decimal:
        """How much of a need one of the item's units holds; 0 where nobody says."""
        if self.item.holds > 0:
            return self.item.holds
        return Decimal(1) if need.unit == self.item.line.wanted.unit else Decimal(0)

    def _in_item(self, quantity: Decimal, need: Need) -> Decimal:
        factor = self.factor(need)
        return quantity / factor if factor > 0 else Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """Needs by whether the shopping list covers them.

    Attributes:
        open: Needs that nothing covers: they become lines.
        covered: By item, in the order of the shopping list.
        listed_only: Needs whose item is there but marked as not needed: they become lines, at its
            price.
    """

    open: tuple[Need, ...]
    covered: tuple[Covered, ...]
    listed_only: tuple[tuple[Need, Item], ...] = field(default=())


def split_needs(needs: Iterable[Need], items: Sequence[Item]) -> Split:
    """Which needs the shopping list covers; every need goes to one place only.

    An item covers a need that it says it covers, that a table says it is bought as, whose words
    are its own words, or whose words are all among them; of several, the one with the fewest other
    words, then the one that is used at the same place.
    """
    left: list[Need] = []
    idle: list[tuple[Need, Item]] = []
    taken: dict[str, list[Need]] = {}
    for need in needs:
        item = find_item(need, [one for one in items if one.needed])
        spare = find_item(need, [one for one in items if not one.needed])
        if item is not None:
            taken.setdefault(item.name, []).append(need)
        elif spare is not None:
            idle.append((need, spare))
        else:
            left.append(need)
    covered = [
        Covered(item=item, needs=tuple(taken[item.name]))
        for item in items
        if item.needed and item.name in taken
    ]
    return Split(open=tuple(left), covered=tuple(covered), listed_only=tuple(idle))


def find_item(need: Need, items: Sequence[Item]) -> Item | None:
    """The item that covers a need, or None."""
    key = normal_key(need.item)
    for item in items:
        if key in (normal_key(one) for one in item.covers):
            return item
    for item in items:
        if need.bought and normal_key(need.bought) == normal_key(item.name):
            return item
    wanted = words_of(need.item)
    able = [item for item in items if wanted and wanted <= words_of(item.name)]
    return min(able, key=lambda item: _farness(need, item), default=None)


def _farness(need: Need, item: Item) -> tuple[int, bool]:
    """How badly an item fits: how many other words it has, then whether it is used elsewhere."""
    place = words_of(need.used_in) & words_of(item.line.wanted.used_in)
    return len(words_of(item.name) - words_of(need.item)), not place


def words_of(text: str) -> frozenset[str]:
    """Words and numbers of a name: no case, no order, no plural; M3 stays together.

    >>> sorted(words_of("Screws M3x8"))
    ['8', 'm3', 'screw', 'x']
    """
    found = _WORD.findall(text.casefold())
    return frozenset(
        one[:-1] if len(one) > 3 and one.endswith("s") and not one.endswith("ss") else one
        for one in found
    )

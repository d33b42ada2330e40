"""The usual caution of a visit's trade, as the house's sequence words it: for the crew's page and mails."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping

from coordination.people.refusals import BadInput
from coordination.sequence.models import SequenceVersion, Visit
from coordination.sequence.publishing import read_version

log = logging.getLogger(__name__)


def cautions_of(visits: Iterable[Visit] | Iterable[int]) -> dict[int, str]:
    """Visit id → the caution of its trade in the house's own sequence; '' where that gives none.

    Takes visits or their ids; two queries, however many there are. A version is read once for all its houses,
    and kept read as long as the process lives.
    """
    ids = {visit.pk if isinstance(visit, Visit) else visit for visit in visits}
    rows = list(
        Visit.objects.filter(pk__in=ids).values_list("pk", "trade__key", "house__sequence_version").order_by()
    )
    versions = SequenceVersion.objects.in_bulk({version for _visit, _trade, version in rows})
    told = {pk: _by_trade(version) for pk, version in versions.items()}
    return {visit: told[version].get(trade, "") for visit, trade, version in rows}


def _by_trade(version: SequenceVersion) -> Mapping[str, str]:
    """Trade key → caution. A text of an older format gives none: a crew's page is shown all the same."""
    if not version.text:
        return {}
    try:
        entry = read_version(version)
    except BadInput as refusal:
        log.warning("no cautions from %s: %s", version, refusal)
        return {}
    return {trade.key: trade.caution for trade in entry.trades}

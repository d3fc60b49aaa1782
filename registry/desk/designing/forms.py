"""The designs by name; tanks come first."""

from registry.desk.designing.asking import SizeForm
from registry.desk.designing.counted import (
    ChangedPairsForm,
    CorrelationForm,
    RankedGroupsForm,
    RankedPairsForm,
    TableForm,
    TankRatesForm,
    TwoRatesForm,
    TwoSharesForm,
    WaitingForm,
)
from registry.desk.designing.measured import (
    CrossoverForm,
    FactorialForm,
    FollowedForm,
    OneGroupForm,
    PairsForm,
    SeveralGroupsForm,
    SlopesForm,
    TankMeansForm,
    TankSharesForm,
    TwoGroupsForm,
)

FORMS: dict[str, type[SizeForm]] = {
    "tanks": TankMeansForm,
    "eggs": TankSharesForm,
    "tank-events": TankRatesForm,
    "groups": TwoGroupsForm,
    "several": SeveralGroupsForm,
    "factorial": FactorialForm,
    "ranks": RankedGroupsForm,
    "pairs": PairsForm,
    "pairs-ranks": RankedPairsForm,
    "before-after": FollowedForm,
    "slopes": SlopesForm,
    "crossover": CrossoverForm,
    "shares": TwoSharesForm,
    "changes": ChangedPairsForm,
    "table": TableForm,
    "events": TwoRatesForm,
    "waiting": WaitingForm,
    "correlation": CorrelationForm,
    "one": OneGroupForm,
}
"""The name of a design in addresses and in the API, and its form; tanks first."""

"""The shape of every table: one dataclass per kind of row, and the `Library` that holds them.

The dataclass *is* the schema. A CSV file has exactly the columns of its row class (bookkeeping fields excepted),
and `service.catalog` refuses anything else, naming file, row and column. A blank cell is ``None``.
Every row says where its figures come from and how far they were checked.

Class bounds mean ``lower <= x < upper`` unless the row says otherwise.
"""

from collections.abc import Mapping

from service.agronomy.tables.library import (
    Crop,
    CropCaution,
    Library,
    Source,
)
from service.agronomy.tables.rates import (
    AmountRow,
    Band,
    CreditRow,
    MaterialRow,
    OrganicRow,
    ScheduleRow,
)
from service.agronomy.tables.row import (
    VERIFICATION_ORDER,
    Row,
    weakest,
)
from service.agronomy.tables.rules import (
    AlwaysPersonRow,
    CautionRow,
    CheckLimitRow,
    FactorRow,
    FaultRow,
    FormulaRow,
    LimitRow,
    ReleaseRuleRow,
    SafetyLevelRow,
)
from service.agronomy.tables.salts import (
    BoronToleranceRow,
    ChlorideToleranceRow,
    ClassRow,
    DilutionRow,
    EquivalentRow,
    LeachingRow,
    LimeRateRow,
    SaltToleranceRow,
    SulfurRateRow,
    WaterGuidelineRow,
)
from service.agronomy.tables.soil import (
    FeelRow,
    KTableRow,
    TexturePropertyRow,
    TextureRow,
)
from service.agronomy.tables.vocabulary import (
    AnalyteRow,
    CalibrationRow,
    ConflictRow,
    MethodRow,
    UnitRow,
    ValidityRow,
    WordRow,
)

ROW_KINDS: Mapping[str, type[Row]] = {
    "analyte": AnalyteRow,
    "method": MethodRow,
    "unit": UnitRow,
    "word": WordRow,
    "calibration": CalibrationRow,
    "band": Band,
    "amount": AmountRow,
    "salt_tolerance": SaltToleranceRow,
    "boron_tolerance": BoronToleranceRow,
    "chloride_tolerance": ChlorideToleranceRow,
    "class": ClassRow,
    "dilution": DilutionRow,
    "water_guideline": WaterGuidelineRow,
    "leaching": LeachingRow,
    "equivalent": EquivalentRow,
    "lime_rate": LimeRateRow,
    "sulfur_rate": SulfurRateRow,
    "formula": FormulaRow,
    "factor": FactorRow,
    "limit": LimitRow,
    "safety_level": SafetyLevelRow,
    "caution": CautionRow,
    "fault": FaultRow,
    "check_limit": CheckLimitRow,
    "validity": ValidityRow,
    "texture": TextureRow,
    "texture_property": TexturePropertyRow,
    "feel": FeelRow,
    "k_table": KTableRow,
    "schedule": ScheduleRow,
    "credit": CreditRow,
    "organic": OrganicRow,
    "always_person": AlwaysPersonRow,
    "release_rule": ReleaseRuleRow,
    "material": MaterialRow,
    "conflict": ConflictRow,
}

__all__ = [
    "ROW_KINDS",
    "VERIFICATION_ORDER",
    "AlwaysPersonRow",
    "AmountRow",
    "AnalyteRow",
    "Band",
    "BoronToleranceRow",
    "CalibrationRow",
    "CautionRow",
    "CheckLimitRow",
    "ChlorideToleranceRow",
    "ClassRow",
    "ConflictRow",
    "CreditRow",
    "Crop",
    "CropCaution",
    "DilutionRow",
    "EquivalentRow",
    "FactorRow",
    "FaultRow",
    "FeelRow",
    "FormulaRow",
    "KTableRow",
    "LeachingRow",
    "Library",
    "LimeRateRow",
    "LimitRow",
    "MaterialRow",
    "MethodRow",
    "OrganicRow",
    "ReleaseRuleRow",
    "Row",
    "SafetyLevelRow",
    "SaltToleranceRow",
    "ScheduleRow",
    "Source",
    "SulfurRateRow",
    "TexturePropertyRow",
    "TextureRow",
    "UnitRow",
    "ValidityRow",
    "WaterGuidelineRow",
    "WordRow",
    "weakest",
]

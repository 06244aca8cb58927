from projects.models.log import (
    Decision,
    HistoryEntry,
    Job,
    JobState,
    RefusedItem,
    Reminder,
    ReminderSnooze,
    Submission,
    SubmissionPersonal,
    SurvivalPrior,
)
from projects.models.organisations import ChainHead, Organisation, Units
from projects.models.people import FieldPass, Membership, Person, ProjectGrant, Role, ShareLink, User
from projects.models.places import (
    Block,
    BlockGround,
    Holding,
    Layout,
    Pattern,
    Project,
    Season,
    SeasonKind,
    Site,
)
from projects.models.planting import (
    BudgetLine,
    CareKind,
    CareTask,
    Cohort,
    MixLine,
    Plan,
    PlantingDay,
    PlantingWindow,
)
from projects.models.stock import (
    Delivery,
    LotMovement,
    LotStorage,
    MovementKind,
    Nursery,
    OrderLine,
    OrderStatus,
    StockLot,
    StockOrder,
    StockTake,
    StockType,
    StoreKind,
    Unit,
)

__all__ = [
    "Block", "BlockGround", "BudgetLine", "CareKind", "CareTask", "ChainHead", "Cohort", "Decision",
    "Delivery", "FieldPass", "HistoryEntry", "Holding", "Job", "JobState", "Layout", "LotMovement",
    "LotStorage", "Membership", "MixLine", "MovementKind", "Nursery", "OrderLine", "OrderStatus",
    "Organisation", "Pattern", "Person", "Plan", "PlantingDay", "PlantingWindow", "Project",
    "ProjectGrant", "RefusedItem", "Reminder", "ReminderSnooze", "Role", "Season", "SeasonKind",
    "ShareLink", "Site", "StockLot", "StockOrder", "StockTake", "StockType", "StoreKind", "Submission",
    "SubmissionPersonal", "SurvivalPrior", "Unit", "Units", "User",
]

"""All readers that are fuzzed."""

from tests.fuzz.harness import Target
from tests.fuzz.of_box import RequestFiles
from tests.fuzz.of_files import ChamberFiles, PlanFiles, ProfileFiles
from tests.fuzz.of_kernel import KernelTexts
from tests.fuzz.of_learned import LearnedFiles, StepTables
from tests.fuzz.of_logs import ColumnMaps, ForeignLogs
from tests.fuzz.of_memory import Checkpoints
from tests.fuzz.of_priors import PriorFiles
from tests.fuzz.of_records import (
    Answers,
    Cards,
    ClimateTables,
    EventTables,
    ForecastInputs,
    InstrumentTables,
    KeptForecasts,
    ReadingTables,
    RelayNotes,
    StatusFiles,
    TablesOnStatus,
    WeatherTables,
)
from tests.fuzz.of_setup import FirstLightTables, KeptAnswers

TARGETS: tuple[type[Target], ...] = (
    ProfileFiles, ChamberFiles, PlanFiles, RequestFiles, Checkpoints, ClimateTables, EventTables, ReadingTables,
    InstrumentTables, KeptForecasts, ForecastInputs, Cards, StatusFiles, TablesOnStatus, WeatherTables, Answers,
    RelayNotes, KernelTexts, LearnedFiles, StepTables, ForeignLogs, ColumnMaps, PriorFiles,
    FirstLightTables, KeptAnswers,
)  # fmt: skip

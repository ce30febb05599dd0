"""A chamber gets to know itself: the step test by the daemon on the modelled chamber, and what is found of it."""

import tempfile
from pathlib import Path

from controller.app.learning import ModelTest, learn_with
from controller.errors import HangroomError
from controller.records.steps import HEAD, StepHead, encode_head
from controller.review.learning.learned import learn_from
from controller.review.learning.rows import read_head
from controller.settings.chamber_file import ChamberFile
from controller.settings.learned_file import Learned
from tests.bench.held.chambers import Variant
from tests.bench.held.schedule import JANUARY_S, ROOM_C


def learn(variant: Variant, guessed: ChamberFile) -> Learned | str:
    """Return what an empty step test finds of this chamber, or why none was made.

    The test is made in the variant's own room where that is constant, else on a day of 20 °C.
    """
    room_c = ROOM_C.get(variant.room, 20.0)
    with tempfile.TemporaryDirectory() as folder:
        test = ModelTest(
            chamber=Path(folder), out=Path(folder), begin_wall_s=JANUARY_S, seed=variant.seed, ambient_c=room_c
        )
        try:
            left = learn_with(variant.file, test)
            head = read_head(left)
            guess = StepHead(name=head.name, began=head.began, loaded_kg=head.loaded_kg, chamber=guessed)
            (left / HEAD).write_bytes(encode_head(guess))
            return learn_from(left).learned
        except HangroomError as error:
            return str(error).splitlines()[0]

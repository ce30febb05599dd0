#!/bin/sh
# A whole mild batch on the model, driven only by the installed command, as a maker would type it. The days are
# invented: Friday 9 January 2026, pork that was frozen against trichinae, an old fridge in the cellar.
# Usage: mild.sh FOLDER [CHAMBER]. The folder is made; what was typed and answered goes to stdout.
set -eu
. "$(dirname "$(realpath "$0")")/kitchen.sh"
mkdir -p "$1"
cd "$1"
open_the_chamber "${2:-old-fridge}" 2026-01-09T17:30Z

# After work: what goes into the bowl, what the limits say, and when to do what. The page goes to the kitchen wall.
type_ plan mild --meat "pork shoulder 3.5kg 25%, frozen 20 days at -15C, 10 cm thick" --casing "natural 28mm" \
    --starter "house culture" --starter-dose 0.25g/kg --starter-range 18C-32C --starter-left 20g \
    --cure-strength 6.25%+4% --scale 0.1g --room 20C --smokes no --dries chamber \
    --awake 7:00-23:00 --authority us --keep mild.plan

# The meter first; then the empty chamber warms while the sausage is made.
type_ calibrate buffers "meter 1" 7.00=7.01 4.01=4.03 --temp 20C
pass 1h
type_ alarms --heard 18:00
type_ start mild --plan mild.plan
pass 2h

# The pieces are marked, weighed with hook and string, and hung, the wrapped samples of the mince among them.
type_ hang $(on_the_scale) --tare 6

# Two nights and a day of souring: a pH when the program asks for it.
while [ "$(stage)" = ferment ]; do
    pass 24h --until-asked
    measure_the_ph
done

# Drying in four steps. The slowest piece counts; the answer says how fast it goes, and what would help. It is thin: the
# maker tries the advice once: damper air for the rest of that step.
advice=""
while [ "$(state)" = running ]; do
    pass 2d
    type_ weigh $(on_the_scale) | tee answer.txt
    damper=$(sed -n 's/.*hangroom set --rh \([0-9]*\) .*/\1/p' answer.txt)
    if [ -n "$damper" ] && [ -z "$advice" ]; then
        advice=taken
        type_ set --rh "$damper" --because "dries too fast"
    fi
done

# The last pH and look, a slice for the laboratory, and the sheet on which a person decides.
type_ calibrate buffers "meter 1" 7.00=7.01 4.01=4.02 --temp 20C
type_ ph "$(real_sausage)" --by "meter 1" --sample sausage --sample-temp "$(sample_temp)"
type_ look A --look "$(seen)" --firmness "$(felt)" --smell "$(smelled)"
type_ aw "$(of_the_laboratory)" --by laboratory --piece A
type_ end
wait
type_ release "$out"/batches/*

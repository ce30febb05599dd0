#!/bin/sh
# A whole tangy batch on the model, driven only by the installed command, as a maker would type it. The days are
# invented: Monday 5 January 2026, beef and pork from the butcher, an old fridge in the shed, a smoker in the yard.
# Usage: tangy.sh FOLDER [CHAMBER]. The folder is made; what was typed and answered goes to stdout.
set -eu
. "$(dirname "$(realpath "$0")")/kitchen.sh"
mkdir -p "$1"
cd "$1"
open_the_chamber "${2:-old-fridge}" 2026-01-05T07:30Z

# At breakfast: what goes into the bowl, what the limits say, and when to do what. The page goes to the kitchen wall.
type_ plan tangy --meat "beef chuck 2kg 20%" --meat "pork shoulder 2.5kg 30%" --casing "natural 38mm" \
    --starter "house culture" --starter-dose 0.25g/kg --starter-range 26C-43C --starter-left 20g \
    --cure-strength 6.25% --scale 0.1g --room 20C --smokes "smoker in the yard" --dries chamber \
    --awake 7:00-23:00 --authority us --keep tangy.plan

# The instruments first; then the empty chamber warms while the sausage is made.
type_ calibrate buffers "meter 1" 7.00=7.02 4.01=4.03 --temp 20C
type_ calibrate ice "probe 1" 0.1C
pass 40m
type_ alarms --heard 8:00
type_ start tangy --plan tangy.plan
pass 200m

# The pieces are marked, weighed with hook and string, and hung, the wrapped samples of the mince among them.
type_ hang $(on_the_scale) --tare 6

# The first pH before going to bed; the next at breakfast, and then whenever the program asks.
pass 11h
measure_the_ph
pass 500m
measure_the_ph
while [ "$(stage)" = ferment ]; do
    pass 6h --until-asked
    measure_the_ph
done

# Into the smoker, once the surface is dry; this program lights no smoke.
pass 30m
type_ look A --look "$(seen)" --firmness "$(felt)" --smell "$(smelled)"
type_ smoker 45C
pass 2h
type_ confirm

# Into the oven with steam. The thickest piece counts, and between two readings the lower one.
while [ "$(stage)" = cook ]; do
    pass 15m
    type_ core "$(in_the_core)" --piece C --by "probe 1" | tee answer.txt
    if grep -q "6.5 of 6.5 log" answer.txt; then type_ confirm; fi
done

# Into ice water: quickly through the warm band, and to the end of it.
while [ "$(stage)" = chill ]; do
    pass 30m
    type_ core "$(in_the_core)" --piece C --by "probe 1" | tee answer.txt
    if grep -q "through every window" answer.txt; then type_ confirm; fi
done

# Back into the chamber, to dry a little; weighed every other day until the slowest piece has lost its share.
while [ "$(state)" = running ]; do
    pass 2d
    type_ weigh $(on_the_scale)
done

# The last pH and look, a slice for the laboratory, and the sheet on which a person decides.
type_ calibrate buffers "meter 1" 7.00=7.01 4.01=4.02 --temp 20C
type_ ph "$(real_sausage)" --by "meter 1" --sample sausage --sample-temp "$(sample_temp)"
type_ look A --look "$(seen)" --firmness "$(felt)" --smell "$(smelled)"
type_ aw "$(of_the_laboratory)" --by laboratory --piece A
type_ end
wait
type_ release "$out"/batches/*

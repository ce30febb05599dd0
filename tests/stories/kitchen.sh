# What both stories share: a chamber whose time stands still, and a maker who types, waits, looks and measures.
# Sourced by tangy.sh and mild.sh; every line that begins with a dollar is a command as it was typed.

out=trial
export HANGROOM_CHAMBER="$out" LOGNAME=ann

type_() { # Show a command, then do it; a story ends where one fails.
    printf '\n$ hangroom'
    for word; do
        case $word in
            *[!A-Za-z0-9=.,:%/_-]*) printf ' "%s"' "$word" ;;
            *) printf ' %s' "$word" ;;
        esac
    done
    printf '\n'
    hangroom "$@" 2>&1
}

open_the_chamber() { # The very daemon on a modelled chamber, in the background; it ends when the batch is taken out.
    hangroom simulate --by-hand --chamber "$1" --out "$out" --begin "$2" >simulation.txt 2>&1 &
    simulation=$!
    until [ -f "$out/status.json" ]; do
        if ! kill -0 "$simulation" 2>/dev/null; then
            cat simulation.txt
            exit 1
        fi
        sleep 0.1
    done
}

pass() { # Let time pass, and remember what could be measured then.
    type_ wait "$@" | tee now.txt
}

# The instruments, as they show it now.
wrapped_sample() { sed -n 's/.*pH by meter *\([0-9.]*\) wrapped.*/\1/p' now.txt; }
real_sausage() { sed -n 's/.*wrapped sample, \([0-9.]*\) real.*/\1/p' now.txt; }
sample_temp() { sed -n 's/.*real sausage, at \([0-9.]*\) .C.*/\1C/p' now.txt; }
on_the_scale() { sed -n 's/.*on the scale *\(.*\); hook.*/\1/p' now.txt; }
in_the_core() { sed -n 's/^  core *\([0-9.]*\) .C.*/\1C/p' now.txt; }
of_the_laboratory() { sed -n 's/.*water activity *\([0-9.]*\) by.*/\1/p' now.txt; }
seen() { sed -n 's/^  look *look \([a-z-]*\),.*/\1/p' now.txt; }
felt() { sed -n 's/.*firmness \([a-z]*\),.*/\1/p' now.txt; }
smelled() { sed -n 's/.*smell \([a-z]*\)$/\1/p' now.txt; }

# Where the batch stands, from the file that `hangroom status` reads.
stage() { sed -n 's/.*"stage":"\([^"]*\)".*/\1/p' "$out/status.json"; }
state() { sed -n 's/.*"state":"\([^"]*\)","held_because".*/\1/p' "$out/status.json"; } # The batch has it; alarms have states too.

measure_the_ph() { # The wrapped sample; the buffers and a real sausage too, where the answer asks for them.
    type_ ph "$(wrapped_sample)" --by "meter 1" --sample-temp "$(sample_temp)" | tee answer.txt
    if grep -q "on each day of use" answer.txt; then
        type_ calibrate buffers "meter 1" 7.00=7.02 4.01=4.03 --temp 20C
    fi
    if grep -q "real sausage" answer.txt; then
        type_ ph "$(real_sausage)" --by "meter 1" --sample sausage --sample-temp "$(sample_temp)" --smell "$(smelled)"
    fi
}

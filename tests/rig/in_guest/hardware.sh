#!/bin/sh
# Runs in the guest before anything else: stands in for the firmware, the header and the wires. Which sensors there are
# is read from the lines that the maker has added to /boot/firmware/config.txt, as a Raspberry Pi's firmware does.
set -eu
config=/boot/firmware/config.txt
trace=/sys/kernel/tracing
params=/sys/module/simhw/parameters

has() { grep -q "^$1\$" "$config" 2>/dev/null; }

modprobe configfs
mountpoint -q /sys/kernel/config || mount -t configfs none /sys/kernel/config
mountpoint -q $trace || mount -t tracefs none $trace

modprobe gpio-sim-k
# The kernel's own trace: every edge by events/gpio, and probes where gpio-sim sets a pull and lets a line go.
echo mono > $trace/trace_clock
echo 2048 > $trace/buffer_size_kb
echo 'p:rig/let_go gpio_sim_free line=%si' > $trace/kprobe_events
echo 'p:rig/pull gpio_sim_apply_pull line=%si level=%dx:u32' >> $trace/kprobe_events
echo 1 > $trace/events/rig/enable
echo 1 > $trace/events/gpio/enable

# Two GPIO chips; which of them is number 0 is up to the kernel's command line.
chip() {  # name label lines
    folder=/sys/kernel/config/gpio-sim/$1
    mkdir -p "$folder/bank0"
    echo "$3" > "$folder/bank0/num_lines"
    echo "$2" > "$folder/bank0/label"
    echo 1 > "$folder/live"
}
# The pulls of a Raspberry Pi after a reset: GPIO 0 to 8 up, 9 to 27 down (BCM2835 ARM Peripherals, table of the GPIOs).
pull() {
    for line in $(seq 0 8); do echo pull-up > "$1/sim_gpio$line/pull"; done
}
if grep -q rig.chips=swapped /proc/cmdline; then
    chip other other-expander 16
    chip header pinctrl-bcm2711 54
else
    chip header pinctrl-bcm2711 54
    chip other other-expander 16
fi
for bank in /sys/devices/platform/gpio-sim.*/gpiochip*; do
    [ -e "$bank/sim_gpio27" ] && pull "$bank"
done

wire=0; bus=0
has dtoverlay=w1-gpio && wire=2
has dtparam=i2c_arm=on && bus=1
modprobe i2c-dev
if [ $wire$bus != 00 ]; then
    [ $wire = 0 ] || modprobe w1_therm
    modprobe simhw w1_n=$wire i2c=$bus
fi
if [ $bus = 1 ]; then
    new=/sys/bus/i2c/devices/i2c-1/new_device
    has dtoverlay=i2c-sensor,sht4x && { modprobe sht4x; echo sht4x 0x44 > $new; }
    has dtoverlay=i2c-sensor,sht3x && { modprobe sht3x; echo sht3x 0x45 > $new; }
    if has dtoverlay=i2c-sensor,bme280; then
        modprobe i2c-stub chip_addr=0x76
        stub=$(grep -l SMBus.stub /sys/bus/i2c/devices/i2c-*/name | head -1)
        stub=$(basename "$(dirname "$stub")")
        python3 /mnt/share/rig/bme280.py "${stub#i2c-}" 20.0 50.0
        modprobe bmp280-i2c
        echo bme280 0x76 > "/sys/bus/i2c/devices/$stub/new_device"
    fi
fi
exit 0

#!/bin/bash
# The first process of the Raspberry Pi guest: brings up what the stories need, tells one, and switches off.
mount -t tmpfs run /run; mount -t tmpfs tmp /tmp; mount -t debugfs debug /sys/kernel/debug
mount -t tracefs trace /sys/kernel/tracing
mount -t cgroup2 cgroup /sys/fs/cgroup && echo +memory > /sys/fs/cgroup/cgroup.subtree_control
word() { sed -n "s/.*rig\.$1=\([^ ]*\).*/\1/p" /proc/cmdline; }
date -u -s "@$(word now)" > /dev/null
modprobe w1-gpio; modprobe w1_therm; modprobe sht4x
export PYTHONPATH=/opt/site HOME=/root LANG=C.UTF-8 HANGROOM_CHAMBER=/etc/hangroom/chamber.toml
ip link set lo up 2>/dev/null
cd /tmp
echo "GUEST $(uname -r), $(tr -d '\0' < /proc/device-tree/model), persist_gpio_outputs=$(cat /sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs 2>/dev/null)"
python3 -u -m "tests.rig.pi.in_guest.$(word story)" || echo "FAILED"
echo "OVER"
sync; modprobe bcm2835_wdt; sleep 0.3; echo b > /proc/sysrq-trigger; sleep 5

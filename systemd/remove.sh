#!/bin/sh
# Takes away what systemd/install.sh has put on this machine, and leaves the batches: /var/lib/hangroom/batches, beside
# them the checks of your instruments, what was learned of your chamber, and a copy of its description.
# Typed in the same folder: sudo sh systemd/remove.sh
set -eu

if [ "$(id -u)" -ne 0 ]; then
    echo "remove.sh: it takes files out of /opt and /etc, so it needs sudo: sudo sh systemd/remove.sh" >&2
    exit 77
fi

# Stopped first: that drives every relay off.
systemctl disable --now --quiet hangroom.service hangroom-forecast.timer 2>/dev/null || true
systemctl stop --quiet hangroom-forecast.service 2>/dev/null || true
rm -f /etc/systemd/system/hangroom.service /etc/systemd/system/hangroom-forecast.service \
    /etc/systemd/system/hangroom-forecast.timer /etc/systemd/system.conf.d/60-hangroom-watchdog.conf
systemctl daemon-reload
systemctl reset-failed --quiet 'hangroom*' 2>/dev/null || true

state=/var/lib/hangroom
if [ -d "$state" ]; then
    [ ! -e /etc/hangroom/chamber.toml ] || cp /etc/hangroom/chamber.toml "$state/chamber.toml"
    rm -rf "$state"/checkpoint* "$state"/status.json* "$state"/requests "$state"/answers
    # The daemon's user goes, so its files become those of whoever typed sudo.
    chown -R "${SUDO_USER:-root}:" "$state"
    chmod -R g-s "$state"
fi

rm -rf /opt/hangroom /etc/hangroom /run/hangroom /var/log/hangroom
rm -f /usr/local/bin/hangroom /etc/udev/rules.d/60-hangroom-gpio.rules /etc/sysusers.d/hangroom.conf
udevadm control --reload
if getent passwd hangroom >/dev/null; then userdel hangroom; fi
if getent group hangroom >/dev/null; then groupdel hangroom; fi

echo "Hangroom is removed. Left: $state (batches and records), and your lines in /boot/firmware/config.txt."

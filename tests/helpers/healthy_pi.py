"""What a Raspberry Pi says of itself where all is armed, set and well."""

from typing import Final

from controller.core.values import Computer, Health

PI: Final = Computer(
    watchdog="Broadcom BCM2835 Watchdog timer",
    watchdog_armed=True,
    watchdog_s=14,
    strict_gpiod=True,
    clock=True,
    health=Health(
        low_voltage=False, processor_c=52.3, disk_free_mb=11_200.0, disk_free_share=0.38, disk_read_only=False
    ),
)

// SPDX-License-Identifier: GPL-2.0
/*
 * Simulated sensors for tests: the wires behind the kernel's own drivers.
 *
 *  - I2C bus 1 with an SHT4x at 0x44 and an SHT3x at 0x45 (plain transfers, as those drivers make them)
 *  - a 1-wire bus with up to four DS18B20
 *
 * What the sensors measure and what goes wrong are parameters, in /sys/module/simhw/parameters. A transfer that hangs
 * does so until its parameter is 0 again: 1 ends with a fatal signal, 2 does not even do that.
 */
#include <linux/crc8.h>
#include <linux/delay.h>
#include <linux/i2c.h>
#include <linux/module.h>
#include <linux/sched/signal.h>
#include <linux/slab.h>
#include <linux/w1.h>

#define SHT4X 0x44
#define SHT3X 0x45
#define BUS 1
#define MOST 4

static int i2c = 1;			module_param(i2c, int, 0444);		/* is there a bus at all? */
static int temp_mc = 20000;		module_param(temp_mc, int, 0644);	/* thousandths of a degree Celsius */
static int rh_mpc = 50000;		module_param(rh_mpc, int, 0644);	/* thousandths of a per cent */
static int i2c_err;			module_param(i2c_err, int, 0644);	/* as 121: -EREMOTEIO */
static int i2c_badcrc;			module_param(i2c_badcrc, int, 0644);
static int i2c_hang;			module_param(i2c_hang, int, 0644);
static int w1_n = 2;			module_param(w1_n, int, 0444);
static int w1_mc[MOST] = { 20000, 20000, 20000, 20000 };
static int w1_count = MOST;		module_param_array(w1_mc, int, &w1_count, 0644);
static int w1_absent;			module_param(w1_absent, int, 0644);	/* a bit for each probe */
static int w1_badcrc;			module_param(w1_badcrc, int, 0644);	/* a bit for each probe */
static int w1_hang;			module_param(w1_hang, int, 0644);

static void hang_while(int *flag)
{
	int how;

	while ((how = READ_ONCE(*flag))) {
		if (how == 1 && fatal_signal_pending(current))
			return;
		msleep(20);
	}
}

/* ---------- I2C ---------- */

static u8 crc_of(const u8 *p, int n)	/* polynomial 0x31, begins with 0xff: data sheets SHT3x and SHT4x */
{
	u8 c = 0xff;
	int i, b;

	for (i = 0; i < n; i++) {
		c ^= p[i];
		for (b = 0; b < 8; b++)
			c = (c & 0x80) ? (c << 1) ^ 0x31 : c << 1;
	}
	return i2c_badcrc ? c ^ 0x5a : c;
}

static void put_word(u8 *p, u32 value)
{
	p[0] = value >> 8;
	p[1] = value;
	p[2] = crc_of(p, 2);
}

static u8 last_command[128][2];

static void answer(u8 addr, u8 *buf)
{
	const u8 *asked = last_command[addr];

	if (addr == SHT3X && asked[0] == 0xf3 && asked[1] == 0x2d) {	/* its status */
		put_word(buf, 0);
	} else if (addr == SHT3X && asked[0] == 0xe1) {			/* its alert limits */
		put_word(buf, asked[1] == 0x02 ? 0 : 0xffff);
	} else {
		/* T = -45 + 175 x / 65535 for both; RH = 100 x / 65535, and for the SHT4x -6 + 125 x / 65535. */
		put_word(buf, div_u64((u64)(temp_mc + 45000) * 65535, 175000));
		if (addr == SHT3X)
			put_word(buf + 3, div_u64((u64)rh_mpc * 65535, 100000));
		else
			put_word(buf + 3, div_u64((u64)(rh_mpc + 6000) * 65535, 125000));
	}
}

static int sim_xfer(struct i2c_adapter *adapter, struct i2c_msg *m, int n)
{
	int i;

	hang_while(&i2c_hang);
	for (i = 0; i < n; i++) {
		u8 addr = m[i].addr, buf[8] = { 0 };

		if (i2c_err)
			return -i2c_err;
		if (addr != SHT4X && addr != SHT3X)
			return -ENXIO;
		if (m[i].flags & I2C_M_RD) {
			answer(addr, buf);
			memcpy(m[i].buf, buf, min_t(int, m[i].len, sizeof(buf)));
		} else {
			memset(last_command[addr], 0, 2);
			memcpy(last_command[addr], m[i].buf, min_t(int, m[i].len, 2));
		}
	}
	return n;
}

static u32 sim_functions(struct i2c_adapter *adapter)
{
	return I2C_FUNC_I2C | I2C_FUNC_SMBUS_EMUL;
}

static const struct i2c_algorithm sim_algorithm = { .master_xfer = sim_xfer, .functionality = sim_functions };
static struct i2c_adapter sim_adapter = {
	.owner = THIS_MODULE, .algo = &sim_algorithm, .name = "simhw i2c", .nr = BUS,
};

/* ---------- 1-wire: the DS18B20 behind a bus master that moves bytes ---------- */

static u64 numbers[MOST];
static int chosen = -1;
static enum { IDLE, ROM, FUNCTION, WRITING, READING } state;
static u8 rom[8], sends[9], limits[MOST][3];
static int rom_n, sends_i, sends_n, writes_n;

static u8 sim_w1_reset(void *data)
{
	int i, any = 0;

	hang_while(&w1_hang);
	for (i = 0; i < w1_n; i++)
		if (!(w1_absent & BIT(i)))
			any = 1;
	chosen = -1;
	rom_n = sends_n = sends_i = 0;
	state = ROM;
	return any ? 0 : 1;
}

static void load_scratchpad(int i)
{
	s16 raw = (w1_mc[i] * 16) / 1000;

	sends[0] = raw;
	sends[1] = raw >> 8;
	memcpy(sends + 2, limits[i], 3);
	sends[5] = 0xff;
	sends[6] = 0x0c;
	sends[7] = 0x10;
	sends[8] = w1_calc_crc8(sends, 8);
	if (w1_badcrc & BIT(i))
		sends[8] ^= 0x55;
	sends_n = 9;
	sends_i = 0;
}

static void match_rom(u8 b)
{
	u64 number = 0;
	int i;

	rom[rom_n++ - 1] = b;
	if (rom_n < 9)
		return;
	for (i = 7; i >= 0; i--)
		number = (number << 8) | rom[i];
	chosen = -1;
	for (i = 0; i < w1_n; i++)
		if (numbers[i] == number && !(w1_absent & BIT(i)))
			chosen = i;
	state = FUNCTION;
}

static void sim_w1_write(void *data, u8 b)
{
	switch (state) {
	case ROM:
		if (rom_n) {
			match_rom(b);
		} else if (b == 0x55) {			/* match ROM */
			rom_n = 1;
		} else if (b == 0xcc) {			/* skip ROM */
			chosen = 0;
			state = FUNCTION;
		}
		return;
	case FUNCTION:
		if (chosen < 0) {
			sends_n = 0;
		} else if (b == 0xbe) {			/* read scratchpad */
			load_scratchpad(chosen);
			state = READING;
		} else if (b == 0x4e) {			/* write scratchpad */
			state = WRITING;
			writes_n = 0;
		} else {				/* "convert" and "read power supply": done; by its own wire */
			sends[0] = 0xff;
			sends_n = 1;
			sends_i = 0;
			state = READING;
		}
		return;
	case WRITING:
		if (writes_n < 3)
			limits[chosen][writes_n++] = b;
		return;
	default:
		return;
	}
}

static u8 sim_w1_read(void *data)
{
	return chosen >= 0 && sends_i < sends_n ? sends[sends_i++] : 0xff;
}

static u8 sim_w1_touch_bit(void *data, u8 b)
{
	return 1;
}

static u8 sim_w1_read_block(void *data, u8 *buf, int n)
{
	int i;

	for (i = 0; i < n; i++)
		buf[i] = sim_w1_read(data);
	return n;
}

static void sim_w1_write_block(void *data, const u8 *buf, int n)
{
	int i;

	for (i = 0; i < n; i++)
		sim_w1_write(data, buf[i]);
}

static void sim_w1_search(void *data, struct w1_master *master, u8 type, w1_slave_found_callback found)
{
	int i;

	for (i = 0; i < w1_n; i++)
		if (!(w1_absent & BIT(i)))
			found(master, numbers[i]);
}

static struct w1_bus_master sim_master = {
	.touch_bit = sim_w1_touch_bit, .read_byte = sim_w1_read, .write_byte = sim_w1_write,
	.read_block = sim_w1_read_block, .write_block = sim_w1_write_block,
	.reset_bus = sim_w1_reset, .search = sim_w1_search,
};

static void number_probes(void)
{
	u8 b[8] = { 0x28, 0, 0x22, 0x33, 0x44, 0x05, 0, 0 };
	int i, byte;

	for (i = 0; i < MOST; i++) {
		b[1] = 0x11 + i;
		b[7] = w1_calc_crc8(b, 7);
		for (byte = 7; byte >= 0; byte--)
			numbers[i] = (numbers[i] << 8) | b[byte];
		limits[i][0] = 0x4b;
		limits[i][1] = 0x46;
		limits[i][2] = 0x7f;
	}
}

static int __init simhw_init(void)
{
	int failed;

	number_probes();
	if (i2c) {
		failed = i2c_add_numbered_adapter(&sim_adapter);
		if (failed)
			return failed;
	}
	if (!w1_n)
		return 0;
	failed = w1_add_master_device(&sim_master);
	if (failed && i2c)
		i2c_del_adapter(&sim_adapter);
	return failed;
}

static void __exit simhw_exit(void)
{
	if (w1_n)
		w1_remove_master_device(&sim_master);
	if (i2c)
		i2c_del_adapter(&sim_adapter);
}

module_init(simhw_init);
module_exit(simhw_exit);
MODULE_LICENSE("GPL");
MODULE_DESCRIPTION("simulated SHT3x, SHT4x and DS18B20 for tests");

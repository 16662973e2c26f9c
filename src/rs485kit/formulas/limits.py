"""Limits that the standards and the open protocols state, as named constants in SI units.

These are statements, not results: each is the default or the bound of a formula here, or of a check higher up. The
text of the standard itself was not at hand. The limits of EIA-485 are those that an application note prints from it
(RS-422/485 Application Note, rev. October 1997, Appendix A, summary of the EIA specifications), except where a line
says otherwise. Two printed limits are disputed: another table gives 6 V, not 5 V, for the loaded output, and a later
note says a third, not 0.30, for the rise; the stricter figure stands here.
"""

from typing import Final

# The driver: magnitudes of the differential output, into the test load and open.
LOADED_VOLTAGE_MINIMUM: Final = 1.5
LOADED_VOLTAGE_MAXIMUM: Final = 5.0
OPEN_VOLTAGE_MINIMUM: Final = 1.5
OPEN_VOLTAGE_MAXIMUM: Final = 6.0
# The test load. A plain test value: neither 60 ohm with 32 unit loads drawn one way (51.7) nor the other (55.6).
TEST_LOAD: Final = 54.0
TEST_CAPACITANCE: Final = 50e-12
# Current of one shorted output, the other end of the short anywhere in the common-mode range.
SHORT_CIRCUIT_CURRENT: Final = 0.25
# Rise and fall as a fraction of the bit, into the test load and test capacitance.
RISE_FRACTION: Final = 0.30
# Mean of the two outputs against the driver's own common.
OFFSET_MINIMUM: Final = -1.0
OFFSET_MAXIMUM: Final = 3.0
# Largest change of the output magnitude, and of the offset, between the two states (rows of a part's datasheet).
STATE_DIFFERENCE: Final = 0.2

# The receiver: where its threshold may lie, and the line voltages over which that must hold.
RECEIVER_THRESHOLD: Final = 0.2
COMMON_MODE_MINIMUM: Final = -7.0
COMMON_MODE_MAXIMUM: Final = 12.0

# One unit load. The border has the slope of 15 kohm and leaves the axis at -3 V and +5 V (SLLA166; its corner points
# in SNLS096C, Unit Load); 12 kohm is only its chord to the point of +12 V and 1 mA, but it is what the trade counts by.
UNIT_LOAD_RESISTANCE: Final = 12_000.0
UNIT_LOAD_SLOPE: Final = 15_000.0
UNIT_LOAD_POSITIVE_REFERENCE: Final = -3.0
UNIT_LOAD_NEGATIVE_REFERENCE: Final = 5.0
UNIT_LOAD_CURRENT: Final = 1e-3
UNIT_LOADS: Final = 32.0

# The driver's common-mode test: a resistor between the outputs and one from each to a swept source. From memory.
COMMON_MODE_TEST_TERMINATION: Final = 60.0
COMMON_MODE_TEST_LINE_LOAD: Final = 375.0

# Modbus over serial line, V1.02, 3.4.6: bias legs, their rail, and the devices that a biased line gives up.
MODBUS_BIAS_SUPPLY: Final = 5.0
MODBUS_BIAS_MINIMUM: Final = 450.0
MODBUS_BIAS_MAXIMUM: Final = 650.0
MODBUS_DEVICES_GIVEN_UP: Final = 4
# The same, 3.4.3: the trunk, the rate up to which and the thinnest gauge on which it may be that long, one derivation,
# and the length that the stubs of one tap share.
MODBUS_TRUNK_LENGTH: Final = 1000.0
MODBUS_TRUNK_RATE: Final = 9600.0
MODBUS_TRUNK_GAUGE: Final = 26
MODBUS_STUB_LENGTH: Final = 20.0
MODBUS_TAP_LENGTH: Final = 40.0

# The same, 2.5.1.1: the rate up to which the silences of RTU scale, and their fixed values above it. 3.2: errors of the
# rate that a device may have when it sends and must bear when it receives. 2.4.1: the wait after a broadcast.
MODBUS_SCALED_RATE: Final = 19_200.0
MODBUS_CHARACTER_GAP: Final = 750e-6
MODBUS_FRAME_GAP: Final = 1.75e-3
MODBUS_SENDER_RATE_ERROR: Final = 0.01
MODBUS_RECEIVER_RATE_ERROR: Final = 0.02
MODBUS_DEFAULT_RATE: Final = 19_200.0

# MS/TP (ANSI/ASHRAE 135, clause 9) as two public implementations transcribe it; the standard itself was not seen.
MSTP_NO_TOKEN_TIME: Final = 0.5
MSTP_SLOT_TIME: Final = 10e-3

# DMX512-A (E1.11) as a support table and an analyser's guide quote it, and the 1990 edition as other manuals do: the
# least break and mark after it that a sender may make, and what one packet may take.
DMX_BREAK: Final = 92e-6
DMX_MARK_AFTER_BREAK: Final = 12e-6
DMX_BREAK_1990: Final = 88e-6
DMX_MARK_AFTER_BREAK_1990: Final = 8e-6
DMX_PACKET_MINIMUM: Final = 1204e-6
DMX_PACKET_MAXIMUM: Final = 1.0
DMX_RATE: Final = 250e3
DMX_RATE_ERROR: Final = 0.02

# PROFIBUS DP in bit times, as handbooks print it: the pause before a request, and by how much slot times have to
# outlast the slowest reply.
PROFIBUS_SYNCHRONISATION_BITS: Final = 33.0
PROFIBUS_SLOT_RESERVE_BITS: Final = 15.0

# RDM (E1.20) as its users quote it: idle level at the least; the near-end termination and its tolerance.
RDM_TERMINATION: Final = 120.0
RDM_IDLE_MINIMUM: Final = 0.245
RDM_TERMINATION_TOLERANCE: Final = 0.10
# The same, as quoted on the forum of its authors: by how much a device in the line may change the bit, the time in
# which it has to listen, and by how much it may shorten a break.
RDM_INLINE_DISTORTION: Final = 75e-9
RDM_INLINE_LISTEN_TIME: Final = 132e-6
RDM_INLINE_BREAK_LOSS: Final = 22e-6

# Largest voltage across 10 kohm between two signal grounds at commissioning (a device maker's instruction).
GROUND_CHECK_VOLTAGE: Final = 1.0
GROUND_CHECK_RESISTANCE: Final = 10_000.0

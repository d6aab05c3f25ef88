# The boards on an ATmega328P: `make atmega328p` and `make smallest`, with avr-gcc and avr-libc.
#
# BUILD is the folder of what is built, DEFINES settings in place of ports/atmega328p/settings.h, for example
#     make atmega328p DEFINES="-DSETTING_SENSOR=1 -DSETTING_BAUD=115200UL"
# To load one onto a board:
#     avrdude -p atmega328p -c arduino -P PORT -U flash:w:build/atmega328p.hex

AVR_CC ?= avr-gcc
AVR_FLAGS = -mmcu=atmega328p -DF_CPU=16000000UL -Os -std=gnu11 -Wall -Wextra -Werror -Wno-type-limits \
	-flto -fno-fat-lto-objects -ffunction-sections -fdata-sections -Wl,--gc-sections -Icore -Igenerated
# Long numbers and floats kept out of line, and no copies of a function for single callers: a fifth less of its flash.
SMALLER = -mcall-prologues -mrelax -mstrict-X -fno-inline-small-functions -fno-inline-functions-called-once \
	-fno-gcse -fno-ipa-cp -fno-ipa-pure-const
CHIP_SOURCES = $(sort $(wildcard core/*.c))
CHIP_HEADERS = $(wildcard core/*.h) generated/messages.h

.PHONY: atmega328p smallest
atmega328p: $(BUILD)/atmega328p.elf
smallest: $(BUILD)/smallest.elf

$(BUILD)/atmega328p.elf: $(CHIP_SOURCES) $(CHIP_HEADERS) $(wildcard ports/atmega328p/*)
	@mkdir -p $(BUILD)
	$(AVR_CC) $(AVR_FLAGS) $(SMALLER) -Iports/atmega328p $(DEFINES) $(CHIP_SOURCES) ports/atmega328p/main.c -o $@ -lm
	avr-objcopy -O ihex -R .eeprom $@ $(@:.elf=.hex)

$(BUILD)/smallest.elf: $(CHIP_SOURCES) $(CHIP_HEADERS) $(wildcard ports/smallest/*)
	@mkdir -p $(BUILD)
	$(AVR_CC) $(AVR_FLAGS) -DCORE_COUNTER_ONLY -Iports/smallest $(DEFINES) $(CHIP_SOURCES) ports/smallest/main.c -o $@ -lm
	avr-objcopy -O ihex -R .eeprom $@ $(@:.elf=.hex)

# The boards on an ATmega328P: `make atmega328p` and `make smallest`, with avr-gcc and avr-libc.
#
# BUILD is the folder of what is built. What differs from machine to machine is written into the board.
# To load one onto a board, through whichever of the two usual boot loaders it has:
#     make load PORT=/dev/serial/by-id/... [BOARD=smallest]

AVR_CC ?= avr-gcc
AVR_FLAGS = -mmcu=atmega328p -DF_CPU=16000000UL -Os -std=gnu11 -Wall -Wextra -Werror -Wno-type-limits \
	-flto -fno-fat-lto-objects -ffunction-sections -fdata-sections -Wl,--gc-sections -Icore -Igenerated
# Long numbers and floats kept out of line, no copies of a function for single callers, and every pass of the compiler
# left out without which this very program is smaller: a fifth less of its flash.
SMALLER = -mcall-prologues -mrelax -mstrict-X -fno-inline-small-functions -fno-inline-functions-called-once \
	-fno-gcse -fno-ipa-cp -fno-ipa-pure-const -fno-ipa-sra -fno-ssa-phiopt -fno-move-loop-invariants \
	-fno-tree-scev-cprop -fno-tree-vrp -fno-tree-tail-merge -fno-tree-ccp -fno-shrink-wrap -fno-if-conversion \
	-fira-algorithm=priority
CHIP_SOURCES = $(sort $(wildcard core/*.c))
CHIP_HEADERS = $(wildcard core/*.h) generated/messages.h

.PHONY: atmega328p smallest
atmega328p: $(BUILD)/atmega328p.elf
smallest: $(BUILD)/smallest.elf

$(BUILD)/atmega328p.elf: $(CHIP_SOURCES) $(CHIP_HEADERS) $(wildcard ports/atmega328p/*)
	@mkdir -p $(BUILD)
	$(AVR_CC) $(AVR_FLAGS) $(SMALLER) -Iports/atmega328p $(CHIP_SOURCES) ports/atmega328p/main.c -o $@ -lm
	avr-objcopy -O ihex -R .eeprom $@ $(@:.elf=.hex)

$(BUILD)/smallest.elf: $(CHIP_SOURCES) $(CHIP_HEADERS) $(wildcard ports/smallest/*)
	@mkdir -p $(BUILD)
	$(AVR_CC) $(AVR_FLAGS) -DCORE_COUNTER_ONLY -Iports/smallest $(CHIP_SOURCES) ports/smallest/main.c -o $@ -lm
	avr-objcopy -O ihex -R .eeprom $@ $(@:.elf=.hex)

# As `winder bench load` does with the images that are shipped. The speeds are those of the two kinds of loader; nothing
# is written before one answered, and what was written is read back. These loaders erase each page as they write it.
BOARD ?= atmega328p
LOADER_BAUDS ?= 115200 57600

.PHONY: load
load: $(BUILD)/$(BOARD).elf
	@test -n "$(PORT)" || { echo "make load: name the port: make load PORT=/dev/serial/by-id/... [BOARD=smallest]" >&2; exit 2; }
	@command -v avrdude > /dev/null || { echo "make load: avrdude is not installed: apt-get install avrdude" >&2; exit 1; }
	@echo "The board at $(PORT) gets $(BUILD)/$(BOARD).hex; what program it has now is replaced."
	@echo "Disconnect the motor's supply first: while a board is being loaded its outputs float."
	@printf "Is the motor disconnected, and shall I load? (yes or no) "; read said && test "$$said" = yes \
		|| { echo "Nothing was loaded." >&2; exit 1; }
	@for baud in $(LOADER_BAUDS); do \
		echo "trying the boot loader at $$baud baud ..."; \
		if avrdude -p atmega328p -c arduino -P "$(PORT)" -b $$baud -D -U flash:w:$(BUILD)/$(BOARD).hex:i; then \
			echo "Loaded and verified, at $$baud baud."; exit 0; fi; \
	done; echo "make load: no boot loader took it at $(LOADER_BAUDS) baud: check the port, load it again" >&2; exit 1

# The board on an RP2040: `make rp2040`, with gcc-arm-none-eabi alone (no C library, no vendor's kit).
#
# BUILD as in ports/chip.mk; RP2040_MORE: options for a program of another kind, in tests. build/rp2040.uf2 is what one copies to the board's drive.

ARM_CC ?= arm-none-eabi-gcc
PYTHON ?= python3
RP2040_FLAGS = -mcpu=cortex-m0plus -mthumb -O2 -std=gnu11 -ffreestanding -fno-tree-loop-distribute-patterns \
	-Wall -Wextra -Werror -Wno-type-limits -ffunction-sections -fdata-sections \
	-nostdlib -nostartfiles -Wl,--gc-sections -Wl,-T,ports/rp2040/link.ld \
	-Iports/rp2040 -Iports/rp2040/libc -Icore -Igenerated
RP2040_SOURCES = $(CHIP_SOURCES) $(sort $(wildcard ports/rp2040/*.c ports/rp2040/libc/*.c)) ports/rp2040/boot.S

.PHONY: rp2040
rp2040: $(BUILD)/rp2040.uf2

$(BUILD)/rp2040.elf: $(RP2040_SOURCES) $(CHIP_HEADERS) $(wildcard ports/rp2040/*.h ports/rp2040/libc/*.h) \
		ports/rp2040/link.ld
	@mkdir -p $(BUILD)
	$(ARM_CC) $(RP2040_FLAGS) $(RP2040_MORE) $(RP2040_SOURCES) -o $@ -lgcc

$(BUILD)/rp2040.uf2: $(BUILD)/rp2040.elf ../images/uf2.py
	arm-none-eabi-objcopy -O binary $< $(@:.uf2=.bin)
	$(PYTHON) ../images/uf2.py $(@:.uf2=.bin) $@

#!/usr/bin/perl
# ptys.pl COUNT PROGRAM ARGUMENTS...
# Makes COUNT raw pseudo-terminals and becomes PROGRAM, which inherits both ends of each: the master to write to, and the
# slave, held open so that it stays where it is while nobody reads, as an adapter does. Node cannot make one itself, and a
# process in between would put its own delay into every line. PTYS in the environment says "descriptor:path,...".
use strict;
use warnings;
use Fcntl qw(O_RDWR O_NOCTTY O_NONBLOCK);

# ioctl_tty(2); the numbers of asm-generic/ioctls.h, which hold on x86 and ARM.
use constant { TIOCSPTLCK => 0x40045431, TIOCGPTN => 0x80045430 };

# perlvar(1): descriptors up to this one stay open over exec.
$^F = 65_535;

my ($count, @program) = @ARGV;
my (@kept, @made);
for (1 .. $count) {
    sysopen(my $master, '/dev/ptmx', O_RDWR | O_NOCTTY | O_NONBLOCK) or die "/dev/ptmx cannot be opened: $!\n";
    my $locked = pack('i', 0);
    ioctl($master, TIOCSPTLCK, $locked) or die "A pseudo-terminal cannot be unlocked: $!\n";
    my $number = pack('i', 0);
    ioctl($master, TIOCGPTN, $number) or die "A pseudo-terminal does not say its number: $!\n";
    my $path = '/dev/pts/' . unpack('i', $number);
    sysopen(my $slave, $path, O_RDWR | O_NOCTTY) or die "$path cannot be opened: $!\n";
    system('stty', '-F', $path, 'raw', '-echo') == 0 or die "stty cannot set $path.\n";
    push @kept, $master, $slave;
    push @made, fileno($master) . ":$path";
}
$ENV{PTYS} = join ',', @made;
exec { $program[0] } @program or die "$program[0] cannot be run: $!\n";

package main

import (
	"net"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"unsafe"

	"github.com/alecthomas/kong"
	"golang.org/x/sys/unix"
)

// forbidNetwork has the kernel kill this process, and all that it starts, when it asks for a socket of the Internet
// families: seccomp(2). It reports whether the kernel does that.
func forbidNetwork() bool {
	const number, family = 0, 16 // offsets in struct seccomp_data; the low half of the first argument
	filter := []unix.SockFilter{
		{Code: unix.BPF_LD | unix.BPF_W | unix.BPF_ABS, K: number},
		{Code: unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, K: unix.SYS_SOCKET, Jf: 4},
		{Code: unix.BPF_LD | unix.BPF_W | unix.BPF_ABS, K: family},
		{Code: unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, K: unix.AF_INET, Jt: 1},
		{Code: unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, K: unix.AF_INET6, Jf: 1},
		{Code: unix.BPF_RET | unix.BPF_K, K: unix.SECCOMP_RET_KILL_PROCESS},
		{Code: unix.BPF_RET | unix.BPF_K, K: unix.SECCOMP_RET_ALLOW},
	}
	program := unix.SockFprog{Len: uint16(len(filter)), Filter: &filter[0]}
	if err := unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0); err != nil {
		return false
	}
	_, _, errno := syscall.RawSyscall(unix.SYS_SECCOMP, unix.SECCOMP_SET_MODE_FILTER, unix.SECCOMP_FILTER_FLAG_TSYNC, uintptr(unsafe.Pointer(&program)))
	return errno == 0
}

// TestNoNetwork: the scripts run every command, and while they do nothing may open a connection. Here the guard itself
// is tried.
func TestNoNetwork(t *testing.T) {
	if os.Getenv("WJ_TRY_THE_GUARD") != "" {
		if !forbidNetwork() {
			os.Exit(3)
		}
		_, _ = net.Dial("udp", "127.0.0.1:9")
		os.Exit(0)
	}
	guarded := exec.Command(os.Args[0], "-test.run=^TestNoNetwork$")
	guarded.Env = append(os.Environ(), "WJ_TRY_THE_GUARD=1")
	err := guarded.Run()
	if guarded.ProcessState.ExitCode() == 3 {
		t.Skip("this kernel forbids no system calls")
	}
	if status, ok := guarded.ProcessState.Sys().(syscall.WaitStatus); !ok || !status.Signaled() || status.Signal() != syscall.SIGSYS {
		t.Fatalf("a connection was opened under the guard: %v", err)
	}
	files, err := os.ReadDir("../../testdata/script")
	if err != nil {
		t.Fatal(err)
	}
	var scripts strings.Builder
	for _, f := range files {
		src, err := os.ReadFile("../../testdata/script/" + f.Name())
		if err != nil {
			t.Fatal(err)
		}
		scripts.Write(src)
	}
	parser, err := kong.New(&commandLine{}, kong.Vars{"version": ""}, kong.ExplicitGroups(commandGroups))
	if err != nil {
		t.Fatal(err)
	}
	for _, command := range parser.Model.Children {
		if command.Hidden { // git runs them, or wj without a command
			continue
		}
		if !regexp.MustCompile(`(?m)^(! |\? )?exec wj( -C \S+)? ` + command.Name + `\b`).MatchString(scripts.String()) {
			t.Errorf("no script runs wj %s", command.Name)
		}
	}
}

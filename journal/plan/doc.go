// Package plan joins a journal's records with the arithmetic of water/treat: a
// change, its basis sessions, lots and scale become a treatment with its
// prediction; the newest sessions of the same sites tell what it would do
// today; a batch tells what was really dosed. It is pure: a journal that was
// loaded with its sessions goes in, numbers and words come out, no clock and no
// Git.
package plan

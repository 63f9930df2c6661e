//go:build !linux

package main

func forbidNetwork() bool { return false }

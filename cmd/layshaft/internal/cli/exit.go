package cli

import (
	"errors"
	"fmt"
)

// Exit codes of the program.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitUnproved    = 3
	exitInfeasible  = 4
	exitInterrupted = 130
)

// exitError is an error that knows the exit code of the program.
type exitError struct {
	code  int
	err   error  // what is said; nil = nothing more to say, the answer says it
	usage string // command path whose --help is pointed to; "" = none
}

func (e *exitError) Error() string {
	if e.err == nil {
		return ""
	}
	return e.err.Error()
}

func (e *exitError) Unwrap() error { return e.err }

// ExitCode is the number that the program ends with.
func (e *exitError) ExitCode() int { return e.code }

// badInput is a fault in what the user gave: a flag's value, a file.
func badInput(format string, args ...any) error {
	return &exitError{code: exitUsage, err: fmt.Errorf(format, args...)}
}

// asInput marks an error of a loader as bad input, nil stays nil.
func asInput(err error) error {
	if err == nil {
		return nil
	}
	return &exitError{code: exitUsage, err: err}
}

// asUsage marks an error as wrong use of a command, whose help is pointed to.
func asUsage(path string, err error) error {
	if err == nil {
		return nil
	}
	var known *exitError
	if errors.As(err, &known) {
		return err
	}
	return &exitError{code: exitUsage, err: err, usage: path}
}

// unproved ends the program after an answer that is not proved.
func unproved(format string, args ...any) error {
	return &exitError{code: exitUnproved, err: fmt.Errorf(format, args...)}
}

// infeasible ends the program when nothing satisfies the limits.
func infeasible(format string, args ...any) error {
	return &exitError{code: exitInfeasible, err: fmt.Errorf(format, args...)}
}

// interrupted ends the program after Ctrl-C with no answer.
func interrupted() error {
	return &exitError{code: exitInterrupted, err: errors.New("interrupted before there was an answer")}
}

package notebook

import "errors"

// Why a file could not be read as a notebook. Test with [errors.Is]; the error
// itself says where in the file and what to do.
var (
	// ErrFormat: the file is not a notebook, or a damaged one.
	ErrFormat = errors.New("not a sound notebook")
	// ErrVersion: the file is a notebook of a format older than 4.0 or newer
	// than 4.5. Saving it again in a current Jupyter brings it to 4.5.
	ErrVersion = errors.New("notebook format not handled")
	// ErrLimit: the file is larger or more deeply nested than any notebook
	// made by hand; see MaxBytes, MaxDepth and MaxValues.
	ErrLimit = errors.New("notebook over the limit")
)

// Why a notebook could not be run.
var (
	// ErrKernel: the notebook is written for another language.
	ErrKernel = errors.New("notebook for another kernel")
	// ErrParameter: a parameter does not exist, or the value does not fit it.
	ErrParameter = errors.New("parameter not settable")
	// ErrInPlace: the output would overwrite the notebook it was made from.
	ErrInPlace = errors.New("output would overwrite the source")
)

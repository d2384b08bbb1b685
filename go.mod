module gaitwright

go 1.26

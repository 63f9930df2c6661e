module github.com/microcosm-cc/bluemonday

go 1.24

module github.com/alecthomas/chroma/v2

go 1.24

# An image with wj, git and ssh-keygen: docker build -t wj . && docker run --rm -v "$PWD:/journal" wj lint
FROM golang:1.26-alpine AS build
RUN apk add --no-cache git
COPY . /src
WORKDIR /src
RUN CGO_ENABLED=0 go build -trimpath -ldflags="-s -w" -o /wj ./cmd/wj

FROM alpine:3
RUN apk add --no-cache git openssh-keygen tzdata && adduser -D brewer
COPY --from=build /wj /usr/local/bin/wj
COPY LICENSE THIRD_PARTY.md /usr/share/doc/wj/
USER brewer
WORKDIR /journal
ENTRYPOINT ["wj"]

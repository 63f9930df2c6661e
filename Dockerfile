# An image with wj, git and ssh-keygen: docker build -t wj . && docker run --rm -v "$PWD:/journal" wj lint
# A release gives its version and commit: --build-arg VERSION=0.1.0 --build-arg COMMIT=$(git rev-parse HEAD)
FROM golang:1.26-alpine AS build
RUN apk add --no-cache git
COPY . /src
WORKDIR /src
ARG VERSION COMMIT
RUN CGO_ENABLED=0 go build -trimpath -ldflags="-s -w -X main.released=$VERSION -X main.releasedCommit=$COMMIT" -o /wj ./cmd/wj

FROM alpine:3
ARG VERSION COMMIT
LABEL org.opencontainers.image.title="wj" org.opencontainers.image.licenses="MIT" org.opencontainers.image.version="$VERSION" org.opencontainers.image.revision="$COMMIT"
RUN apk add --no-cache git openssh-keygen tzdata && adduser -D brewer
COPY --from=build /wj /usr/local/bin/wj
COPY LICENSE THIRD_PARTY.md /usr/share/doc/wj/
USER brewer
WORKDIR /journal
ENTRYPOINT ["wj"]

# The service in a small image; it writes to its volume alone, where the record is kept (SQLite).
FROM python:3.11-slim-bookworm AS build
WORKDIR /src
COPY pyproject.toml README.md LICENSE ./
COPY rules rules
COPY service service
RUN python -m venv /opt/breakcrop && /opt/breakcrop/bin/pip install --no-cache-dir '.[fast,postgres,cluster,pdf]'
# Reads the facts once, so that the image carries them compiled.
RUN /opt/breakcrop/bin/breakcrop rules lint

FROM python:3.11-slim-bookworm
RUN useradd --system --no-create-home --shell /usr/sbin/nologin breakcrop \
    && install -d -o breakcrop -g breakcrop -m 700 /var/lib/breakcrop
COPY --from=build /opt/breakcrop /opt/breakcrop
ENV PATH=/opt/breakcrop/bin:$PATH \
    PYTHONUNBUFFERED=1 \
    PYTHONDONTWRITEBYTECODE=1 \
    BREAKCROP_HOST=0.0.0.0 \
    BREAKCROP_PORT=8080 \
    BREAKCROP_DATABASE_URL=sqlite:////var/lib/breakcrop/record.db
USER breakcrop
VOLUME /var/lib/breakcrop
EXPOSE 8080
HEALTHCHECK --interval=30s --timeout=5s --start-period=15s --retries=3 \
    CMD ["python", "-c", "import os, urllib.request as u; u.urlopen('http://127.0.0.1:' + os.environ['BREAKCROP_PORT'] + '/readyz', timeout=4)"]
# exec form: stop signals reach serve, which lets answers and chunks of jobs finish
CMD ["breakcrop", "serve"]

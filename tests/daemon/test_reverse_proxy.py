"""The example of nginx before dawnbrew, with a real nginx, TLS and a real daemon's server behind it."""

import re
import socket
import ssl
import subprocess
import sys
import time
from pathlib import Path

import httpx

sys.path.append(str(Path(__file__).parents[1] / "web"))

from web_cases import Web, plan_once

EXAMPLE = Path(__file__).parents[2] / "config" / "nginx.conf"
NAME = "brew.example.org"


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return taken.getsockname()[1]


def certificate(folder):
    command = [
        "openssl",
        "req",
        "-x509",
        "-newkey",
        "rsa:2048",
        "-nodes",
        "-days",
        "1",
        "-subj",
        f"/CN={NAME}",
    ]
    subprocess.run(
        [*command, "-addext", f"subjectAltName=DNS:{NAME}", "-keyout", "key.pem", "-out", "cert.pem"],
        cwd=folder, check=True, capture_output=True,
    )  # fmt: skip


def settings(folder, behind, plain, secure):
    """Return the example with other ports, paths and certificates, inside what a main file has around it."""
    text = EXAMPLE.read_text()
    text = re.sub(r"listen \[::\].*\n", "\n", text)
    for old, new in (
        ("listen 80;", f"listen 127.0.0.1:{plain};"), ("listen 443 ssl;", f"listen 127.0.0.1:{secure} ssl;"),
        ("127.0.0.1:8643", f"127.0.0.1:{behind}"), ("/var/log/nginx", str(folder)),
        (f"/etc/letsencrypt/live/{NAME}/fullchain.pem", str(folder / "cert.pem")),
        (f"/etc/letsencrypt/live/{NAME}/privkey.pem", str(folder / "key.pem")),
    ):  # fmt: skip
        assert old in text, old
        text = text.replace(old, new)
    kept = "".join(f"{kind}_temp_path {folder}/{kind};\n" for kind in
                   ("client_body", "proxy", "fastcgi", "uwsgi", "scgi"))  # fmt: skip
    return f"pid {folder}/pid;\nerror_log {folder}/main.log;\nevents {{}}\nhttp {{\n{kept}{text}\n}}\n"


def test_nginx_takes_the_example_and_no_log_of_it_holds_an_address(nginx_path, tmp_path):
    site = tmp_path / "site"
    site.mkdir()
    certificate(site)
    plan_once(tmp_path)
    with Web(tmp_path, proxies=("127.0.0.1",), hosts=[NAME]).served() as web:
        plain, secure = free_port(), free_port()
        file = site / "main.conf"
        file.write_text(settings(site, web.port, plain, secure))
        tested = subprocess.run([nginx_path, "-t", "-c", file], capture_output=True, text=True, check=False)
        assert (tested.returncode, "warn" in tested.stderr) == (0, False), tested.stderr
        nginx = subprocess.Popen([nginx_path, "-c", file, "-g", "daemon off;"], stderr=subprocess.DEVNULL)
        try:
            tokens = _visit(web, site, plain, secure)
        finally:
            nginx.terminate()
            nginx.wait(10)
    logged = "".join(log.read_text() for log in site.glob("*.log"))
    assert "GET 200 " in logged
    assert not any(token in logged for token in tokens)


def _visit(web, site, plain, secure):
    person, feed = web.link(role="look"), web.link("feed", "phone")
    trusted = ssl.create_default_context(cafile=str(site / "cert.pem"))
    there = {"Host": NAME}
    with httpx.Client(verify=trusted, trust_env=False, headers=there) as client:
        at = f"https://127.0.0.1:{secure}"
        by_name = {"sni_hostname": NAME}
        for _ in range(100):
            try:
                opened = client.get(f"{at}/open/{person}", extensions=by_name)
                break
            except httpx.ConnectError:
                time.sleep(0.05)
        assert opened.status_code == 303
        assert "; Secure" in opened.headers["set-cookie"]
        assert opened.headers["strict-transport-security"]
        first = client.get(f"{at}/feed/{feed}.ics", extensions=by_name)
        assert first.headers["content-encoding"] == "gzip"
        again = client.get(
            f"{at}/feed/{feed}.ics", headers={"If-None-Match": first.headers["etag"]}, extensions=by_name
        )
        assert again.status_code == 304
        assert client.get(f"{at}/%66eed/{feed}x.ics", extensions=by_name).status_code == 404
        told = httpx.get(f"http://127.0.0.1:{plain}/feed/{feed}.ics", headers=there, trust_env=False)
        assert told.headers["location"] == f"https://{NAME}/feed/{feed}.ics"
        assert client.get(f"{at}/", headers={"Host": "evil.example"}, extensions=by_name).status_code == 400
    return person, feed


def test_nothing_of_an_address_is_in_the_format_of_the_log():
    (log,) = re.findall(r"log_format dawnbrew '([^']*)';", EXAMPLE.read_text())
    assert not re.search(r"\$(request|uri|request_uri|args|http_referer|request_filename)\b", log)
    assert EXAMPLE.read_text().count("access_log ") == EXAMPLE.read_text().count("log dawnbrew;") == 2

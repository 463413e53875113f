"""The service as other machines reach it: tls.py PROGRAM.

The certificates are made by trustme, the client is Python's own.
"""

import http.client
import socket
import ssl
import sys

import trustme
from service import served

NAME = "lab.example"
MORE = f"""listen: 0.0.0.0:0
names: [ {NAME} ]
token_file: token
tls: {{ certificate: chain.pem, key: key.pem }}
"""


def main(program: str) -> int:
    authority, stranger = trustme.CA(), trustme.CA()

    def lay(folder):
        certificate = authority.issue_cert(NAME)
        certificate.private_key_pem.write_to_path(folder / "key.pem")
        for part in certificate.cert_chain_pems:
            part.write_to_path(folder / "chain.pem", append=True)

    def trusting(whom):
        context = ssl.create_default_context()
        whom.configure_trust(context)
        return context

    with served(program, MORE, lay) as service:
        port = int(service.link().rsplit(":", 1)[1])
        token = (service.folder / "token").read_text().strip()

        def connected(context):
            return context.wrap_socket(socket.create_connection(("127.0.0.1", port), 10), server_hostname=NAME)

        def asked(path, host=NAME, **headers):
            connection = http.client.HTTPConnection(host, port)
            connection.sock = connected(trusting(authority))
            connection.request("GET", path, headers=headers)
            answer = connection.getresponse()
            answer.read()
            connection.close()
            return answer.status

        bearer = {"Authorization": f"Bearer {token}"}
        assert asked("/healthz") == 200
        assert asked("/api/benches", **bearer) == 200
        assert asked("/api/benches") == 401, "without the token"
        assert asked("/api/benches", Authorization="Bearer wrong") == 401
        assert asked("/api/benches", host="elsewhere.example", **bearer) == 421, "under a name that is not its own"
        with connected(trusting(authority)) as line:
            assert line.version() in ("TLSv1.2", "TLSv1.3"), line.version()

        try:
            connected(trusting(stranger))
            raise AssertionError("a certificate of nobody known was taken")
        except ssl.SSLCertVerificationError:
            pass
        plain = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        try:
            plain.request("GET", "/api/benches", headers=bearer)
            raise AssertionError(f"it answered without TLS: {plain.getresponse().status}")
        except (http.client.BadStatusLine, ConnectionError):
            pass

        ended, panics = service.end()
        assert (ended, panics) == (0, []), (ended, panics)
        assert token not in service.log.read_text()
    print("over TLS: as it should be")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))

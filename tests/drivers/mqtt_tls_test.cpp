// SPDX-License-Identifier: Apache-2.0
// S13. Whom the session takes for its broker: a real one (mosquitto) with certificates that openssl
// makes here, right and wrong in every way, and what is said of each.
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <thread>

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/write.hpp>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "drivers/clock.h"
#include "drivers/tls_check.h"
#include "tests/drivers/mqtt_bench.h"
#include "tests/temporary_folder.h"

namespace brinegate::drivers {
namespace {

using config::BrokerTrouble;
using ::testing::AnyOf;
using ::testing::ElementsAre;

void openssl(const std::vector<std::string>& arguments) {
  std::vector<std::string> command{"openssl"};
  command.insert(command.end(), arguments.begin(), arguments.end());
  ASSERT_EQ(PeerProcess(command).wait(), 0) << arguments.front();
}

// An authority of our own, and a broker with a certificate that it has signed.
class TlsBench {
 public:
  TlsBench() {
    make_authority("authority");
    make_authority("stranger");
  }
  void start_broker(const std::string& for_host = "DNS:localhost", int days = 2) {
    openssl(request("broker", {"-subj", "/CN=broker", "-addext", "subjectAltName=" + for_host}));
    openssl({"x509", "-req", "-in", file("broker.pem"), "-CA", authority("authority"), "-CAkey",
             file("authority.key"), "-days", std::to_string(days), "-copy_extensions", "copy",
             "-out", file("signed.pem")});
    folder_.open_for_other_users();  // the broker drops root's rights
    std::ofstream(file("broker.conf"))
        << "listener " << port_ << " 127.0.0.1\nallow_anonymous true\npersistence false\n"
        << "certfile " << file("signed.pem") << "\nkeyfile " << file("broker.key") << "\n";
    broker_.emplace(std::vector<std::string>{"/usr/sbin/mosquitto", "-c", file("broker.conf")});
    ASSERT_TRUE(wait_until_listening(port_));
  }
  // What our configuration says, unless a test changes it.
  [[nodiscard]] config::Mqtt address(const std::string& host = "localhost") const {
    config::Mqtt mqtt;
    mqtt.broker = "mqtts://" + host + ":" + std::to_string(port_);
    mqtt.ca_file = authority("authority");
    return mqtt;
  }
  [[nodiscard]] std::string authority(const std::string& name) const { return file(name + ".pem"); }

 private:
  [[nodiscard]] std::string file(const std::string& name) const { return folder_.file(name); }
  [[nodiscard]] std::vector<std::string> request(const std::string& name,
                                                 const std::vector<std::string>& more) const {
    std::vector<std::string> words{"req",
                                   "-newkey",
                                   "ec",
                                   "-pkeyopt",
                                   "ec_paramgen_curve:P-256",
                                   "-nodes",
                                   "-keyout",
                                   file(name + ".key"),
                                   "-out",
                                   file(name + ".pem")};
    words.insert(words.end(), more.begin(), more.end());
    return words;
  }
  void make_authority(const std::string& name) {
    openssl(request(name, {"-x509", "-days", "2", "-subj", "/CN=Invented " + name}));
  }

  TemporaryFolder folder_;
  std::uint16_t port_ = free_loopback_port();
  std::optional<PeerProcess> broker_;
};

void expect_refusal(const config::Mqtt& mqtt, BrokerTrouble trouble) {
  Hearing hearing(mqtt);
  EXPECT_THAT(hearing.first_troubles(), ElementsAre(trouble));
  EXPECT_EQ(hearing.session.stats().connections, 0U);
}

TEST(MqttTls, ABrokerWhoseCertificateItsAuthoritySignedIsTaken) {
  TlsBench bench;
  bench.start_broker("DNS:localhost,IP:127.0.0.1");
  for (const char* host : {"localhost", "127.0.0.1"}) {
    Hearing hearing(bench.address(host));
    EXPECT_TRUE(hearing.wait_for_connections(1)) << host;
    EXPECT_EQ(hearing.session.stats().connections, 1U);
  }
}

TEST(MqttTls, ACertificateThatAnotherAuthoritySignedIsRefused) {
  TlsBench bench;
  bench.start_broker();
  config::Mqtt mqtt = bench.address();
  mqtt.ca_file = bench.authority("stranger");
  expect_refusal(mqtt, BrokerTrouble::UnknownAuthority);
}

// OpenSSL takes whom this computer trusts from SSL_CERT_FILE.
TEST(MqttTls, WithoutAnAuthorityInTheConfigurationTheComputersCountAndOtherwiseTheyDoNot) {
  TlsBench bench;
  bench.start_broker();
  config::Mqtt mqtt = bench.address();
  mqtt.ca_file.clear();
  expect_refusal(mqtt, BrokerTrouble::UnknownAuthority);
  ASSERT_EQ(::setenv("SSL_CERT_FILE", bench.authority("authority").c_str(), 1), 0);
  {
    Hearing hearing(mqtt);
    EXPECT_TRUE(hearing.wait_for_connections(1));
  }
  mqtt.ca_file = bench.authority("stranger");
  expect_refusal(mqtt, BrokerTrouble::UnknownAuthority);
  ::unsetenv("SSL_CERT_FILE");
}

TEST(MqttTls, ACertificateForAnotherHostIsRefused) {
  TlsBench bench;
  bench.start_broker("DNS:localhost");
  expect_refusal(bench.address("127.0.0.1"), BrokerTrouble::CertificateOfAnotherHost);
}

TEST(MqttTls, ACertificateForAnotherHostIsRefusedByItsNameToo) {
  TlsBench bench;
  bench.start_broker("DNS:hub.example");
  expect_refusal(bench.address(), BrokerTrouble::CertificateOfAnotherHost);
}

TEST(MqttTls, AnOutdatedCertificateIsRefused) {
  TlsBench bench;
  bench.start_broker("DNS:localhost", -1);
  expect_refusal(bench.address(), BrokerTrouble::CertificateOutdated);
}

TEST(MqttTls, AnAuthorityThatCannotBeReadLetsNobodyIn) {
  TlsBench bench;
  bench.start_broker();
  config::Mqtt mqtt = bench.address();
  mqtt.ca_file = bench.authority("absent");
  expect_refusal(mqtt, BrokerTrouble::NoAuthorities);
}

TEST(MqttTls, TlsAndItsLackAreNotConfused) {
  TlsBench bench;
  bench.start_broker();
  config::Mqtt open = bench.address();
  open.broker.replace(0, 8, "mqtt://");
  {
    Hearing hearing(open);  // the broker may hang up before it has heard anything
    EXPECT_THAT(hearing.first_troubles(), AnyOf(ElementsAre(BrokerTrouble::SpeaksNoMqtt),
                                                ElementsAre(BrokerTrouble::NobodyAnswers)));
  }
  const Broker plain;
  config::Mqtt secured = plain.address();
  secured.broker.replace(0, 7, "mqtts://");
  expect_refusal(secured, BrokerTrouble::NoTls);
}

TEST(MqttTls, WhereNobodyListensThatIsWhatIsSaid) {
  const TlsBench bench;
  expect_refusal(bench.address(), BrokerTrouble::NobodyAnswers);
}

// A peer that begins a record and sends a byte of it now and then, for as long as it is listened
// to.
class Trickle {
 public:
  Trickle() : acceptor_(context_, {boost::asio::ip::address_v4::loopback(), 0}) {
    thread_ = std::thread([this] { send_slowly(); });
  }
  ~Trickle() { thread_.join(); }
  Trickle(const Trickle&) = delete;
  Trickle& operator=(const Trickle&) = delete;

  [[nodiscard]] std::string port() const {
    return std::to_string(acceptor_.local_endpoint().port());
  }

 private:
  void send_slowly() {
    boost::asio::ip::tcp::socket peer = acceptor_.accept();
    const std::string record("\x16\x03\x03\x40\x00", 5);
    boost::system::error_code gone;
    for (std::size_t i = 0; i < 200 && !gone; ++i) {
      boost::asio::write(peer, boost::asio::buffer(&record[i % record.size()], 1), gone);
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
  }

  boost::asio::io_context context_;
  boost::asio::ip::tcp::acceptor acceptor_;
  std::thread thread_;
};

TEST(MqttTls, APeerThatTricklesIsListenedToForNoLongerThanAllowed) {
  const Trickle peer;
  config::Mqtt mqtt;
  mqtt.broker = "mqtts://127.0.0.1:" + peer.port();
  const MonoTime begun = monotonic_now();
  EXPECT_EQ(tls_trouble(mqtt, std::chrono::milliseconds(300)), BrokerTrouble::NoTls);
  EXPECT_LT(monotonic_now() - begun, std::chrono::seconds(5)) << "it trickles for ten";
}

}  // namespace
}  // namespace brinegate::drivers

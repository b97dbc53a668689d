// SPDX-License-Identifier: Apache-2.0
// What is answered over HTTP, without a socket: who gets in, what each address gives, and that the
// description says the same.
#include "daemon/http_api.h"

#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>
#include <sys/stat.h>

#include "config/cautions.h"
#include "daemon/embedded_files.h"
#include "daemon/engine/library_request.h"
#include "daemon/history_tables.h"
#include "daemon/store_tables.h"
#include "tests/config/cellar.h"
#include "tests/temporary_folder.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;
using namespace std::string_literals;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

constexpr const char* token = "an-invented-token";
const Instant start{MonoTime(1000h), WallTime(Duration(1790000000s))};

constexpr const char* status_of_the_cellar =
    R"({"id": "", "ok": true, "site": "cellar", "stations": [{"station": "mixer",
        "phase": "proven", "gate": "shut",
        "checks": [{"id": "no-leak", "verdict": "met", "waived": null},
        {"id": "temperature", "verdict": "violated", "waived": {"by": "Ada"}},
        {"id": "cells-agree", "verdict": "not asked", "waived": null}],
        "readings": {"bath": {"quality": "bad", "age_s": null}},
        "salinity": {"practical_salinity": 34.8}, "temperature_c": null,
        "alarms": [{"id": "change-ended-early", "state": "acknowledged"}],
        "shelved": [{"id": "record-failing", "for_s": 60, "reason": "on holiday"}]}]})";

// One that keeps what it is sent, until it has gone.
class Reader final : public HttpStream {
 public:
  bool send(const std::string& text) override {
    got.push_back(text);
    return !gone;
  }
  std::vector<std::string> got;
  bool gone = false;
};

class HttpApiTest : public ::testing::Test {
 protected:
  HttpResponse ask(HttpRequest request) {
    HttpResponse given;
    given.status = 0;
    api.handle(request, now, [&given](HttpResponse response) { given = std::move(response); });
    return given;
  }
  HttpResponse get(const std::string& target,
                   std::map<std::string, std::string> headers = {{"host", "localhost:8480"}}) {
    return ask({"GET", target, std::move(headers), ""});
  }
  HttpResponse post(const std::string& body, const std::string& given = token,
                    const std::string& type = "application/json") {
    return ask(
        {"POST",
         "/api/v1/requests",
         {{"host", "localhost:8480"}, {"authorization", "Bearer " + given}, {"content-type", type}},
         body});
  }
  static Json body_of(const HttpResponse& response) { return Json::parse(response.body); }

  TemporaryFolder folder;
  Instant now = start;
  std::string engine_says = status_of_the_cellar;
  std::vector<std::pair<Origin, Json>> asked;
  bool look_ups_taken = true;
  bool look_ups_wait = false;  // as on a thread of their own
  std::function<void()> waiting;
  config::Http http{"127.0.0.1", 8480, "", {"cellar.example"}};
  HttpApi api{HttpAccess(http, token),
              {"mixer"},
              folder.path(),
              {[this](Origin origin, const std::string& payload,
                      const std::function<void(const std::string&)>& answer) {
                 asked.emplace_back(origin, Json::parse(payload));
                 answer(engine_says);
               },
               [this](const std::function<HttpResponse()>& work, const HttpAnswer& answer) {
                 if (look_ups_wait) {
                   waiting = [work, answer] { answer(work()); };
                 } else if (look_ups_taken) {
                   answer(work());
                 }
                 return look_ups_taken;
               },
               [] {
                 return Surroundings{{{"phone", "webhook", {4, 2, 1, true}}},
                                     drivers::MqttStats{.connected = true, .connections = 3}};
               }}};
};

TEST_F(HttpApiTest, TellsTheStationsAndEachByItsName) {
  EXPECT_EQ(body_of(get("/api/v1/stations")).at("stations").at(0).at("station"), "mixer");
  EXPECT_EQ(body_of(get("/api/v1/stations/mixer")).at("phase"), "proven");
  EXPECT_EQ(asked.back().second.at("station"), "mixer");
  const HttpResponse unknown = get("/api/v1/stations/mixr");
  EXPECT_EQ(unknown.status, 404U);
  EXPECT_EQ(unknown.type, "application/problem+json");
  EXPECT_THAT(body_of(unknown).at("detail").get<std::string>(), HasSubstr("known are mixer"));
  EXPECT_EQ(get("/api/v1/stations?all=1").status, 400U);
  EXPECT_EQ(get("/api/v1/stations/").status, 404U);
  EXPECT_EQ(get("/api/v1/stations/mixer/x").status, 404U);
  EXPECT_EQ(get("/api/v1/stations/%zz").status, 404U);
}

TEST_F(HttpApiTest, TakesNoAddressWithoutAPath) {
  for (const char* target : {"", "?", "?station=mixer", "*", "index.html", "localhost:8480"}) {
    EXPECT_EQ(get(target).status, 400U) << target;
  }
}

TEST_F(HttpApiTest, SaysThatTheDaemonHasTooMuchToDo) {
  engine_says = R"({"ok": false, "message": "too many requests wait"})";
  EXPECT_EQ(get("/api/v1/stations").status, 503U);
  EXPECT_EQ(get("/metrics").status, 503U);
  EXPECT_EQ(get("/api/v1/stream").status, 503U);
  look_ups_taken = false;
  EXPECT_EQ(get("/api/v1/record").status, 503U);
}

TEST_F(HttpApiTest, AnswersNoNameThatIsNotItsOwn) {
  for (const char* host : {"localhost:8480", "127.0.0.1:8480", "[::1]:8480", "LOCALHOST"}) {
    EXPECT_EQ(get("/api/v1/stations", {{"host", host}}).status, 200U) << host;
  }
  for (const char* host : {"", "evil.example", "localhost.evil.example", "cellar.example.evil",
                           "[::1", "127.0.0.1.evil.example", "localhost, evil.example"}) {
    EXPECT_EQ(get("/healthz", {{"host", host}}).status, 421U) << host;
  }
}

TEST_F(HttpApiTest, GivesNothingToPagesOfOtherOrigins) {
  const auto from = [this](const std::string& origin, const std::string& host = "localhost:8480") {
    return get("/healthz", {{"host", host}, {"origin", origin}}).status;
  };
  EXPECT_EQ(from("http://localhost:8480"), 200U);
  EXPECT_EQ(from("https://cellar.example", "127.0.0.1:8480"), 200U);  // through a proxy
  for (const char* origin : {"http://evil.example", "null", "http://localhost:8481",
                             "https://cellar.example:3000", "http://", "localhost:8480"}) {
    EXPECT_EQ(from(origin), 403U) << origin;
  }
}

TEST_F(HttpApiTest, AsksEverybodyForTheTokenButThisComputersReaders) {
  const std::string target = "/api/v1/stations";
  EXPECT_EQ(get(target).status, 200U);
  EXPECT_EQ(get(target, {{"host", "cellar.example"}}).status, 401U);
  EXPECT_EQ(get(target, {{"host", "192.0.2.1:8480"}}).status, 401U);
  EXPECT_EQ(get(target, {{"host", "localhost"}, {"x-forwarded-for", "192.0.2.7"}}).status, 401U);
  const auto with_token = [&](const std::string& authorization) {
    return get(target, {{"host", "cellar.example"}, {"authorization", authorization}}).status;
  };
  EXPECT_EQ(with_token("Bearer an-invented-token"), 200U);
  EXPECT_EQ(with_token("bearer an-invented-token"), 200U);
  for (const char* wrong : {"Bearer an-invented-tokem", "Bearer an-invented-token2", "Bearer ",
                            "Basic an-invented-token", "Bearer an-invented-tokenan-invented-token",
                            "an-invented-token"}) {
    EXPECT_EQ(with_token(wrong), 401U) << wrong;
  }
  EXPECT_EQ(get("/healthz", {{"host", "cellar.example"}}).status, 200U);

  http.address = "0.0.0.0";
  const HttpAccess for_others(http, token);
  EXPECT_TRUE(for_others.refuse_reader({"GET", "/", {{"host", "localhost"}}, ""}));
  EXPECT_EQ(HttpAccess(http, "").refuse_asker({"POST", "/", {}, ""})->status, 403U);
}

// S13: with the rights of a token's holder, never with those of the machine itself.
TEST_F(HttpApiTest, PassesRequestsOnWithTheTokensRights) {
  engine_says = R"({"id": "a1", "ok": true, "message": "Accepted.", "reasons": []})";
  const HttpResponse accepted = post(R"({"id": "a1", "station": "mixer", "do": "stop"})");
  EXPECT_EQ(accepted.status, 200U);
  EXPECT_EQ(body_of(accepted).at("message"), "Accepted.");
  ASSERT_EQ(asked.size(), 1U);
  EXPECT_EQ(asked[0].first, Origin::Token);
  EXPECT_EQ(asked[0].second.at("do"), "stop");

  engine_says = R"({"id": "a2", "ok": false, "message": "Refused.", "reasons": ["leak"]})";
  const HttpResponse refused =
      post(R"({"id": "a2", "station": "mixer", "do": "change", "volume": "4 L"})");
  EXPECT_EQ(refused.status, 409U);
  EXPECT_EQ(body_of(refused).at("detail"), "Refused.");
  EXPECT_THAT(body_of(refused).at("reasons"), ElementsAre("leak"));
}

TEST_F(HttpApiTest, PassesNothingOnThatIsNoRequestOrComesWithoutTheToken) {
  const std::string stop = R"({"id": "a1", "station": "mixer", "do": "stop"})";
  EXPECT_EQ(post(stop, "another-token-here").status, 401U);
  EXPECT_EQ(post(stop, token, "text/plain").status, 415U);
  EXPECT_EQ(post(stop, token, "").status, 415U);
  EXPECT_EQ(post("{").status, 400U);
  EXPECT_EQ(post(R"({"do": "open"})").status, 400U);
  EXPECT_EQ(post(std::string(20000, ' ')).status, 400U);
  EXPECT_EQ(get("/api/v1/requests").status, 405U);
  EXPECT_TRUE(asked.empty());
}

TEST_F(HttpApiTest, TakesOnlySoManyRequestsAtOnce) {
  const std::string stop = R"({"id": "a1", "station": "mixer", "do": "stop"})";
  for (int i = 0; i < 20; ++i) {
    EXPECT_EQ(post(stop).status, 200U) << i;
  }
  EXPECT_EQ(post(stop).status, 429U);
  EXPECT_EQ(get("/api/v1/stations").status, 200U);
  now.mono += 1s;
  EXPECT_EQ(post(stop).status, 200U);
  EXPECT_EQ(post(stop).status, 429U);
}

TEST_F(HttpApiTest, TellsWatchersEverythingAtOnceAndThenWhatIsNew) {
  const HttpResponse response =
      get("/api/v1/stream", {{"host", "localhost"}, {"last-event-id", "17"}});
  EXPECT_EQ(response.type, "text/event-stream");
  EXPECT_THAT(response.body, HasSubstr("event: station\ndata: {\"station\":\"mixer\""));
  const auto reader = std::make_shared<Reader>();
  response.opened(reader);
  api.station_changed("mixer", R"({"gate":"open"})");
  api.station_changed("mixer", R"({"gate":"open"})");
  EXPECT_THAT(reader->got, ElementsAre("event: station\ndata: {\"gate\":\"open\"}\n\n"));
  api.tick(now.mono);
  ASSERT_EQ(reader->got.size(), 3U);
  EXPECT_THAT(reader->got[1], StartsWith(":"));
  EXPECT_THAT(reader->got[2], HasSubstr("\"phase\":\"proven\""));
  reader->gone = true;
  api.station_changed("mixer", "{}");
  api.station_changed("mixer", R"({"gate":"shut"})");
  EXPECT_EQ(reader->got.size(), 4U);
}

TEST_F(HttpApiTest, TellsAWatcherOfOneStationNothingOfOthers) {
  const auto reader = std::make_shared<Reader>();
  get("/api/v1/stream?station=mixer").opened(reader);
  api.station_changed("other", "{}");
  EXPECT_TRUE(reader->got.empty());
  EXPECT_EQ(get("/api/v1/stream?station=other").status, 404U);
}

TEST_F(HttpApiTest, AsksTheEngineNothingWhileNobodyWatches) {
  api.tick(now.mono);
  EXPECT_TRUE(asked.empty());
}

TEST_F(HttpApiTest, LetsOnlySoManyWatch) {
  std::vector<std::shared_ptr<Reader>> readers;
  for (int i = 0; i < 64; ++i) {
    readers.push_back(std::make_shared<Reader>());
    get("/api/v1/stream").opened(readers.back());
  }
  EXPECT_EQ(get("/api/v1/stream").status, 503U);
  readers.front()->gone = true;
  api.station_changed("mixer", "{}");
  EXPECT_EQ(get("/api/v1/stream").status, 200U);
}

TEST_F(HttpApiTest, TellsTheRecordAndTheHistory) {
  auto record = RecordWriter::open(folder.path());
  ASSERT_TRUE(record.ok());
  ASSERT_TRUE(std::move(record)
                  .value()
                  .append({1,
                           {{start.wall, "mixer", "batch-begun", "{}"},
                            {start.wall, "mixer", "proven", R"({"risk":0.01})"}},
                           {}})
                  .ok());
  auto history = HistoryWriter::open(folder.path(), {});
  ASSERT_TRUE(history.ok());
  AppendReadings rows;
  const double values[]{35.0, 36.0, 34.0, 35.5};
  for (int i = 0; i < 4; ++i) {
    rows.rows.push_back({"mixer", "cell", start.wall - 40s + i * 10s,
                         i == 1 ? Quality::Bad : Quality::Good, values[i]});
  }
  ASSERT_TRUE(std::move(history).value().append(rows).ok());

  const Json entries = body_of(get("/api/v1/record?station=mixer&kind=proven")).at("record");
  ASSERT_EQ(entries.size(), 1U);
  EXPECT_EQ(entries[0].at("body").at("risk"), 0.01);
  EXPECT_EQ(body_of(get("/api/v1/record?limit=1")).at("record").size(), 1U);
  EXPECT_EQ(get("/api/v1/record?limit=0").status, 400U);
  EXPECT_EQ(get("/api/v1/record?limit=1001").status, 400U);
  EXPECT_EQ(get("/api/v1/record?limits=1").status, 400U);

  const std::string cell = "/api/v1/readings?station=mixer&probe=cell";
  EXPECT_EQ(body_of(get(cell + "&from=2026-09-21T14:00&to=2026-09-21T15:00")).at("readings").size(),
            4U);
  const Json bad =
      body_of(get(cell + "&from=2026-09-21T14:00&to=2026-09-21T15:00")).at("readings").at(1);
  EXPECT_EQ(bad.at("quality"), "bad");
  EXPECT_TRUE(bad.at("value").is_null());
  const Json hour = body_of(get(cell + "&every=1+h")).at("readings").at(0);
  EXPECT_EQ(hour.at("low"), 34.0);
  EXPECT_EQ(hour.at("high"), 35.5);
  EXPECT_NEAR(hour.at("value").get<double>(), 104.5 / 3.0, 1e-4);
  EXPECT_EQ(hour.at("quality"), "bad");
  EXPECT_EQ(get("/api/v1/readings?station=mixer&probe=absent").status, 404U);
  for (const char* wrong : {"&from=soon", "&from=2026-09-22&to=2026-09-21", "&every=1",
                            "&every=0%20s", "&from=2010-01-01", "&x=1", "&probe=cell", "&from=%"}) {
    EXPECT_EQ(get(cell + wrong).status, 400U) << wrong;
  }
  EXPECT_EQ(get("/api/v1/readings?station=mixer").status, 400U);
}

TEST_F(HttpApiTest, AnswersQuestionsAboutLotsAndTanksOnRecord) {
  Library library;
  Append append;
  for (const auto& [act, file] : {std::pair("lot add", "h-2291.json"),
                                  {"lot add", "h-2304.csv"},
                                  {"tank add", "reef.json"}}) {
    const Json request = {{"do", act}, {"text", config::content_of("config/examples/"s + file)}};
    const auto parsed = parse_request(dump(request), largest_local_request);
    ASSERT_TRUE(parsed.ok()) << parsed.error().message;
    apply_library_request(library, *parsed, append, start.wall);
  }
  auto record = RecordWriter::open(folder.path());
  ASSERT_TRUE(std::move(record).value().append(append).ok());

  EXPECT_EQ(body_of(get("/api/v1/lots")).at("lots").size(), 2U);
  EXPECT_FALSE(body_of(get("/api/v1/lots")).contains("ok"));
  EXPECT_EQ(get("/api/v1/lots/H-2291").status, 200U);
  EXPECT_EQ(get("/api/v1/lots/H-2291%2F1").status, 200U);
  EXPECT_EQ(get("/api/v1/comparison?lots=H-2291,H-2304&tank=reef").status, 200U);
  EXPECT_EQ(body_of(get("/api/v1/tanks")).at("tanks").size(), 1U);
  const std::string reef = "/api/v1/tanks/reef";
  EXPECT_EQ(get(reef).status, 200U);
  EXPECT_EQ(get(reef + "/review").status, 200U);
  EXPECT_EQ(get(reef + "/forecast?lot=H-2291&change=20+%25&times=4&every=7+d").status, 200U);
  EXPECT_EQ(get(reef + "/ranking?change=20+%25").status, 200U);

  for (const char* unknown : {"/api/v1/lots/H-1", "/api/v1/lots/H-2291%2F7", "/api/v1/tanks/x",
                              "/api/v1/tanks/x/review", "/api/v1/tanks/x/ranking?change=2+L"}) {
    EXPECT_EQ(get(unknown).status, 404U) << unknown;
  }
  for (const char* wrong : {"/forecast?lot=H-1&change=2+L", "/forecast?change=2+L", "/ranking",
                            "/ranking?change=2+L&tank=reef", "/ranking?change=2+L&do=stop",
                            "/ranking?change=2+L&times=x", "/ranking?change=2+L&x=y"}) {
    EXPECT_EQ(get(reef + wrong).status, 400U) << wrong;
  }
}

TEST_F(HttpApiTest, TellsEachBatchWithWhatTheRecordHasOfIt) {
  Append append;
  for (const auto& [id, begun] :
       {std::pair("mixer-1", "2026-11-01T08:00:00Z"), {"mixer-2", "2026-11-08T08:00:00Z"}}) {
    const Json state = {
        {"id", id}, {"begun", begun}, {"lot", "H-2291"}, {"portions", Json::array()}};
    append.entries.push_back({start.wall, "mixer", "batch-begun", dump(state)});
    append.entries.push_back({start.wall, "mixer", "noted", dump(Json{{"batch", id}})});
    append.states.push_back({"batch", id, "mixer", dump(state)});
  }
  append.entries.push_back({start.wall, "mixer", "alarm", "{}"});
  auto record = RecordWriter::open(folder.path());
  ASSERT_TRUE(std::move(record).value().append(append).ok());

  const Json batches = body_of(get("/api/v1/batches")).at("batches");
  ASSERT_EQ(batches.size(), 2U);
  EXPECT_EQ(batches.at(0).at("batch"), "mixer-2") << "the newest first";
  EXPECT_EQ(batches.at(0).at("lot"), "H-2291");
  EXPECT_TRUE(batches.at(0).at("proof").is_null());
  const Json batch = body_of(get("/api/v1/batches/mixer-1"));
  EXPECT_EQ(batch.at("events").size(), 2U) << batch;
  EXPECT_FALSE(batch.at("state").contains("portions"));
  EXPECT_EQ(get("/api/v1/batches/mixer-3").status, 404U);
}

// A row that no version wrote; the next fault of ours may be another one.
TEST_F(HttpApiTest, AFaultOfItsOwnCostsOneAnswerAndNotTheDaemon) {
  Append append;
  append.states.push_back({"batch", "mixer-1", "mixer", R"({"profile": {"name": null}})"});
  auto record = RecordWriter::open(folder.path());
  ASSERT_TRUE(std::move(record).value().append(append).ok());
  look_ups_wait = true;
  HttpResponse looked_up;
  api.handle({"GET", "/api/v1/batches", {{"host", "localhost"}}, ""}, now,
             [&looked_up](HttpResponse response) { looked_up = std::move(response); });
  waiting();
  EXPECT_EQ(looked_up.status, 500U);
  EXPECT_THAT(looked_up.body, HasSubstr("a fault of the daemon's own"));
  engine_says = R"({"ok": true})";  // and no stations
  EXPECT_EQ(get("/api/v1/stations").status, 500U);
}

TEST_F(HttpApiTest, TellsBeforehandWhatOfAnAnalysisCanBeReadAndStoresNothing) {
  const auto preview = [this](const std::string& body) {
    return ask({"POST",
                "/api/v1/preview",
                {{"host", "localhost:8480"}, {"content-type", "application/json"}},
                body});
  };
  const Json read = body_of(preview(
      R"({"do": "lot add", "name": "H-1", "text": "Salinity 35 ppt\nCa 421 mg/L\nsee overleaf"})"));
  EXPECT_EQ(read.at("content").at("lot"), "H-1");
  EXPECT_EQ(read.at("content").at("analytes").at(0).at("analyte"), "Ca");
  EXPECT_EQ(read.at("unread").at(0).at("text"), "see overleaf");
  const Json test = body_of(preview(
      R"({"do": "tank test", "tank": "reef", "at": "2026-03-01T18:00", "salinity": "35 ppt",
          "text": "Ca 392 mg/L"})"));
  EXPECT_EQ(test.at("content").at("analytes").at(0).at("analyte"), "Ca") << test;
  const Json wrong = body_of(preview(R"({"do": "lot add", "text": "Ca 421 mg/L"})"));
  EXPECT_TRUE(wrong.at("content").is_null());
  EXPECT_FALSE(wrong.at("errors").empty());
  EXPECT_EQ(preview(R"({"do": "stop"})").status, 400U);
  EXPECT_EQ(preview("{").status, 400U);
  EXPECT_TRUE(asked.empty());
}

TEST_F(HttpApiTest, GivesTheDashboardCompressedToThoseWhoTakeIt) {
  const auto length = [this](const std::string& accepted) {
    return get("/uPlot.iife.min.js", {{"host", "localhost"}, {"accept-encoding", accepted}})
        .body.size();
  };
  EXPECT_LT(2 * length("gzip, deflate, br"), length(""));
  EXPECT_LT(2 * length("br,gzip"), length("identity"));
  EXPECT_EQ(length("gzip;q=0"), length(""));
}

TEST_F(HttpApiTest, GivesMetricsOfWhatIsKnown) {
  api.record_written(start.wall);
  const HttpResponse response = get("/metrics");
  EXPECT_THAT(response.type, HasSubstr("application/openmetrics-text; version=1.0.0"));
  for (const char* line : {
           "\nbrinegate_gate{station=\"mixer\",brinegate_gate=\"shut\"} 1\n",
           "\nbrinegate_gate{station=\"mixer\",brinegate_gate=\"open\"} 0\n",
           "\nbrinegate_practical_salinity{station=\"mixer\"} 34.8\n",
           "\nbrinegate_check_met{station=\"mixer\",check=\"no-leak\"} 1\n",
           "\nbrinegate_probe_quality{station=\"mixer\",probe=\"bath\","
           "brinegate_probe_quality=\"bad\"} 1\n",
           "\nbrinegate_alarm{station=\"mixer\",id=\"change-ended-early\","
           "brinegate_alarm=\"acknowledged\"} 1\n",
           "\nbrinegate_alarm{station=\"mixer\",id=\"record-failing\","
           "brinegate_alarm=\"normal\"} 1\n",
           "\nbrinegate_record_written_timestamp_seconds 1790000000\n",
           "\nbrinegate_alarms_shelved{station=\"mixer\"} 1\n",
           "\nbrinegate_check_waived{station=\"mixer\",check=\"temperature\"} 1\n",
           "\n# TYPE brinegate_deliveries counter\n",
           "\nbrinegate_deliveries_total{receiver=\"phone\",by=\"webhook\"} 4\n",
           "\nbrinegate_delivery_failures_total{receiver=\"phone\",by=\"webhook\"} 2\n",
           "\nbrinegate_deliveries_given_up_total{receiver=\"phone\",by=\"webhook\"} 1\n",
           "\nbrinegate_deliveries_waiting{receiver=\"phone\",by=\"webhook\"} 1\n",
           "\nbrinegate_broker_connected 1\n",
           "\nbrinegate_broker_connections_total 3\n",
       }) {
    EXPECT_THAT(response.body, HasSubstr(line));
  }
  EXPECT_THAT(response.body, Not(HasSubstr("cells-agree")));
  EXPECT_THAT(response.body, Not(HasSubstr("celsius{")));
  EXPECT_THAT(response.body, ::testing::EndsWith("\n# EOF\n"));
}

TEST_F(HttpApiTest, IsDescribedWholeAndNotMoreThanWhole) {
  std::set<std::pair<std::string, std::string>> answered;
  std::set<std::string> open_to_all;
  for (const HttpApi::Route& route : HttpApi::routes()) {
    answered.emplace(route.method, route.path);
    if (route.right == HttpApi::Right::Anybody) {
      open_to_all.emplace(route.path);
    }
  }
  std::set<std::pair<std::string, std::string>> described;
  std::set<std::string> described_as_open;
  const Json description = body_of(get("/api/v1/openapi.json"));
  for (const auto& [path, operations] : description.at("paths").items()) {
    for (const auto& [method, operation] : operations.items()) {
      described.emplace(method == "get" ? "GET" : "POST", path);
      if (operation.contains("security")) {
        described_as_open.insert(path);
      }
    }
  }
  EXPECT_EQ(described, answered);
  EXPECT_EQ(described_as_open, open_to_all);
}

TEST_F(HttpApiTest, SaysOnTheDashboardWhatMustBeSaidWhereverTheProgramIsShown) {
  std::string page = get("/").body;
  page = std::regex_replace(page, std::regex("\\s+"), " ");
  for (const std::string_view caution : config::cautions) {
    EXPECT_THAT(page, HasSubstr(std::string(caution)));
  }
}

TEST_F(HttpApiTest, GivesTheDashboardToEverybodyAndItsDescriptionAtOnePlaceOnly) {
  const HttpResponse page = get("/", {{"host", "cellar.example"}});
  EXPECT_EQ(page.status, 200U);
  EXPECT_EQ(page.type, "text/html; charset=utf-8");
  for (const EmbeddedFile& file : embedded_files()) {
    EXPECT_FALSE(file.type.empty()) << file.name;
    EXPECT_FALSE(file.content.empty()) << file.name;
  }
  EXPECT_EQ(get("/openapi.json").status, 404U);
  EXPECT_EQ(get("/../../etc/passwd").status, 404U);
  EXPECT_EQ(ask({"POST", "/", {{"host", "localhost"}}, ""}).status, 405U);
  EXPECT_EQ(ask({"HEAD", "/healthz", {{"host", "localhost"}}, ""}).status, 200U);
  EXPECT_EQ(ask({"OPTIONS", "/api/v1/requests", {{"host", "localhost"}}, ""}).status, 405U);
}

TEST(HttpToken, IsReadFromAFileThatOnlyItsUserMayUse) {
  const TemporaryFolder folder;
  const std::filesystem::path file = folder.path() / "http.token";
  EXPECT_THAT(read_token(file).error().message, HasSubstr("openssl rand"));
  const auto holding = [&file](const std::string& text) {
    std::ofstream(file) << text;
    ::chmod(file.c_str(), 0600);
    return read_token(file);
  };
  EXPECT_EQ(*holding("0123456789abcdef\n"), "0123456789abcdef");
  EXPECT_FALSE(holding("short\n").ok());
  EXPECT_FALSE(holding("0123456789 abcdef\n").ok());
  EXPECT_FALSE(holding("").ok());
  ASSERT_TRUE(holding("0123456789abcdef\n").ok());
  ::chmod(file.c_str(), 0640);
  EXPECT_THAT(read_token(file).error().message, HasSubstr("chmod 600"));
}

}  // namespace
}  // namespace brinegate::daemon
